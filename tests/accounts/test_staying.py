"""How long a sign-in lasts, where one is signed in, and what a browser is told about cookies and features.

That sessions end without use and can be seen and ended is OWASP ASVS 5.0, 7.3.1 and 7.5.2; the lengths are our own.
"""

import datetime as dt
import os
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from accounts.models import OpenSession, SignInRules
from accounts.people.services import OLD_WRONG
from accounts.sign_in.staying import browser_words
from config.phone.middleware import HEADER
from tests.api import API
from tests.conftest import PASSWORD, Cast

NOW = dt.datetime(2026, 10, 5, 14, 0, tzinfo=dt.UTC)
ROOT = Path(__file__).resolve().parents[2]
FIREFOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"


def enter(username: str = "teacher", **more: str) -> Client:
    """A browser of somebody who signed in by the page."""
    client = Client(headers={"User-Agent": FIREFOX})
    values = {"username": username, "password": PASSWORD, **more}
    assert client.post(reverse("sign_in"), values).status_code == 302
    return client


def works(client: Client) -> bool:
    """Whether it is still signed in."""
    return client.get(reverse("student_list")).status_code == 200


@pytest.mark.parametrize("minutes", [15, 60, 720])
def test_a_session_ends_after_the_districts_time_without_use(cast: Cast, minutes: int) -> None:
    """Each use begins the time anew; the page says why one is asked again, and leads back."""
    SignInRules.objects.create(district=cast.district, idle_minutes=minutes)
    with time_machine.travel(NOW, tick=False) as clock:
        client = enter()
        for _ in range(3):
            clock.shift(dt.timedelta(minutes=minutes - 2))
            assert works(client)
        clock.shift(dt.timedelta(minutes=minutes + 1))
        answer = client.get(reverse("student_list"))
        assert answer["Location"] == f"{reverse('sign_in')}?next={reverse('student_list')}"
        assert "wasn&#x27;t used for a while" in client.get(answer["Location"]).content.decode()


def test_what_a_phone_fetches_by_itself_is_no_use(cast: Cast) -> None:
    """It refreshes its pages while nobody is there."""
    SignInRules.objects.create(district=cast.district, idle_minutes=30)
    with time_machine.travel(NOW, tick=False) as clock:
        client = enter()
        for _ in range(3):
            clock.shift(dt.timedelta(minutes=11))
            last = client.get(reverse("student_list"), headers={HEADER: "1"}).status_code
        assert last == 302


def test_without_rules_a_week(cast: Cast) -> None:
    """So nothing changes for a district that has said nothing."""
    with time_machine.travel(NOW, tick=False) as clock:
        client = enter()
        clock.shift(dt.timedelta(days=6, hours=23))
        assert works(client)
        clock.shift(dt.timedelta(days=7, minutes=2))
        assert client.get(f"{API}/students/").json()["code"] == "not_authenticated"


def test_everybody_signs_in_again_after_thirty_days(cast: Cast) -> None:
    """However often it is used (NIST SP 800-63B, 4.1.3; OWASP ASVS 5.0, 7.3.2)."""
    with time_machine.travel(NOW, tick=False) as clock:
        client = enter()
        for _ in range(5):
            clock.shift(dt.timedelta(days=5, hours=23))
            assert works(client)
        clock.shift(dt.timedelta(days=1))
        assert not works(client)


def test_a_shared_computer_forgets(cast: Cast) -> None:
    """The cookie ends with the browser, the session after 15 minutes; the browser isn't known afterward."""
    with time_machine.travel(NOW, tick=False) as clock:
        client = enter(shared="on")
        assert client.cookies["sessionid"]["max-age"] == ""
        assert "known" not in client.cookies
        clock.shift(dt.timedelta(minutes=14))
        assert works(client)
        clock.shift(dt.timedelta(minutes=16))
        assert not works(client)
        own = enter()
        assert int(own.cookies["sessionid"]["max-age"]) > 24 * 3600
        assert own.cookies["known"]["httponly"]


def test_one_sees_where_one_is_signed_in_and_ends_it(cast: Cast) -> None:
    """On the page and in the API; nobody else's."""
    here, there, third = enter(), enter(shared="on"), enter()
    page = here.get(reverse("own_sign_in")).content.decode()
    assert page.count("Firefox on Windows</strong>") == 3
    assert page.count("This one") == 1
    told = here.get(f"{API}/open-sessions/").json()["results"]
    assert [one["here"] for one in told].count(True) == 1
    [shared] = [one for one in told if one["shared"]]
    end = f"{API}/open-sessions/{shared['id']}/end/"
    for wrong in ({}, {"password": "not-the-password"}):
        assert here.post(end, wrong, content_type="application/json").status_code == 400
    assert works(there)
    assert here.post(end, {"password": PASSWORD}, content_type="application/json").status_code == 204
    assert not works(there)
    assert works(third)
    others = reverse("open_sessions_end_others")
    assert OLD_WRONG in unescape(here.post(others, {"password": "not-the-password"}).content.decode())
    assert works(third)
    assert here.post(others, {"password": PASSWORD}).status_code == 302
    assert not works(third)
    assert works(here)
    mate = enter("mate")
    left = OpenSession.objects.get(person=cast.teacher)
    assert mate.post(reverse("open_session_end", args=[left.pk]), {"password": PASSWORD}).status_code == 404
    fourth = enter()
    row = OpenSession.objects.filter(person=cast.teacher).latest("pk")
    assert here.get(reverse("open_session_end", args=[row.pk])).status_code == 200
    assert here.post(reverse("open_session_end", args=[row.pk]), {"password": PASSWORD}).status_code == 302
    assert not works(fourth)


def test_the_list_follows_a_changed_password(cast: Cast) -> None:
    """The session goes on under another key; it is one session all the same, and ending the others spares it."""
    client = enter()
    fresh = "a-password-of-ones-own"
    with time_machine.travel(dt.datetime.now(tz=dt.UTC) + dt.timedelta(minutes=2)):
        values = {"old_password": PASSWORD, "new_password1": fresh, "new_password2": fresh}
        client.post(reverse("password_change"), values)
    with time_machine.travel(dt.datetime.now(tz=dt.UTC) + dt.timedelta(minutes=4)):
        assert works(client)
        assert OpenSession.objects.get(person=cast.teacher).session_key == client.session.session_key


def test_signing_out_forgets_the_session_and_empties_the_cache_alone(cast: Cast) -> None:
    """ "storage" would take what was tapped and isn't sent yet (docs/offline.md)."""
    client = enter()
    answer = client.post(reverse("sign_out"))
    assert answer["Clear-Site-Data"] == '"cache"'
    assert not OpenSession.objects.exists()


def test_every_answer_says_which_features_are_used(cast: Cast) -> None:
    """A script that isn't ours gets neither camera nor place."""
    policy = Client().get(reverse("sign_in"))["Permissions-Policy"]
    assert "camera=()" in policy
    assert "geolocation=()" in policy
    assert "publickey-credentials-get=(self)" in policy


def test_under_https_cookies_are_this_hosts_alone(tmp_path: Path) -> None:
    """RFC 6265bis, 4.1.3.2: the prefix `__Host-` asks for Secure, the whole path and no domain. RFC 6797: HSTS."""
    asked = (
        "import django; django.setup()\n"
        "from django.test import Client\n"
        "answer = Client().get('/sign-in/', secure=True, headers={'host': 'plan.school.example'})\n"
        "for name, one in answer.cookies.items(): print(name, one['secure'], one['path'], repr(one['domain']))\n"
        "print(answer['Strict-Transport-Security'])\n"
    )
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HTTPS_ONLY": "on",
        "ALLOWED_HOSTS": "plan.school.example",
        "SECRET_KEY": "a-key-of-this-test-alone-0123456789-abcdefghijklmnopqrstuvwxyz",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'a.sqlite3'}",
        "WEB_STARTS_WORKER": "off",
    }
    done = subprocess.run(
        [sys.executable, "-c", asked], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    assert "__Host-csrftoken True / ''" in done.stdout
    assert "max-age=31536000" in done.stdout


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (FIREFOX, "Firefox on Windows"),
        # As published by the browsers' makers.
        (
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
                "Version/18.0 Mobile/15E148 Safari/604.1"
            ),
            "Safari on iPhone",
        ),
        (
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 "
                "Safari/537.36 Edg/140.0.0.0"
            ),
            "Edge on Windows",
        ),
        ("", ""),
    ],
)
def test_a_browser_in_a_few_words(agent: str, words: str) -> None:
    """Each names older ones, too."""
    assert browser_words(agent) == words
