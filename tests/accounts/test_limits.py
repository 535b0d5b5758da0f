"""Limits on wrong tries: by name and address together, by name, and by address.

NIST SP 800-63B, 3.2.2: at most 100 wrong tries in a row for one account. The other figures are the project's own
(no outside source); that a browser which somebody signed in with counts by itself is OWASP's "Device Cookies".
"""

import datetime as dt

import pytest
import time_machine
from axes.models import AccessFailureLog
from django.test import Client
from django.urls import reverse

from accounts.sign_in.limits import BY_ADDRESS, BY_NAME, BY_NAME_LONG, TOGETHER, counted_as, wait_words
from tests.api import API
from tests.conftest import PASSWORD, Cast

NOW = dt.datetime(2026, 10, 5, 14, 0, tzinfo=dt.UTC)
SCHOOL = "198.51.100.7"  # RFC 5737: addresses for examples

WRONG = "not-it"


def attempt(name: str = "teacher", password: str = WRONG, *, at: str = SCHOOL, client: Client | None = None) -> int:
    """One try at the sign-in page; what it answered."""
    browser = client or Client()
    values = {"username": name, "password": password}
    return browser.post(reverse("sign_in"), values, REMOTE_ADDR=at).status_code


def test_twelve_addresses_do_not_go_on_for_ever(cast: Cast) -> None:
    """Four tries from each stay below the limit of name and address together; the name's own limit ends it."""
    answers = [attempt(at=f"203.0.113.{1 + number // 4}") for number in range(48)]
    assert answers.count(200) == BY_NAME.tries - 1
    assert set(answers[BY_NAME.tries - 1 :]) == {429}
    assert attempt(password=PASSWORD, at="203.0.113.200") == 429


def test_one_address_does_not_try_name_after_name(cast: Cast) -> None:
    """Forty names, four tries each."""
    answers = [attempt(f"name-{number % 40}") for number in range(160)]
    assert answers.count(200) == BY_ADDRESS.tries - 1
    assert answers[-1] == 429
    assert attempt("mate", PASSWORD, at="203.0.113.1") == 302, "elsewhere it goes on"


def test_five_slips_do_not_lock_the_school(cast: Cast) -> None:
    """The others behind the same address sign in."""
    assert [attempt() for _ in range(TOGETHER.tries)][-1] == 429
    assert attempt("mate", PASSWORD) == 302
    assert attempt("office", PASSWORD) == 302


def test_waiting_helps_and_trying_meanwhile_does_not_harm(cast: Cast) -> None:
    """What is refused isn't counted."""
    with time_machine.travel(NOW, tick=False) as clock:
        assert [attempt() for _ in range(TOGETHER.tries + 20)][-1] == 429
        clock.shift(TOGETHER.within - dt.timedelta(seconds=1))
        assert attempt(password=PASSWORD) == 429
        clock.shift(2)
        assert attempt(password=PASSWORD) == 302


def test_at_most_a_hundred_within_a_month(cast: Cast) -> None:
    """However patient somebody is."""
    taken = 0
    with time_machine.travel(NOW, tick=False) as clock:
        for number in range(29 * 8):
            taken += attempt(at=f"203.0.113.{number % 250}") == 200
            clock.shift(dt.timedelta(hours=3))
    assert taken <= BY_NAME_LONG.tries <= 100


def test_a_browser_in_which_one_signed_in_is_not_locked_by_others(cast: Cast) -> None:
    """Whoever tries from elsewhere can't keep a teacher from work; guessing in that browser has the same limits."""
    own = Client()
    assert attempt(password=PASSWORD, client=own) == 302
    own.post(reverse("sign_out"))
    for number in range(BY_NAME.tries):
        attempt(at=f"203.0.113.{1 + number // 4}")
    assert attempt(password=PASSWORD) == 429
    assert [attempt(client=own) for _ in range(3)] == [200] * 3
    assert attempt(password=PASSWORD, client=own) == 302
    own.post(reverse("sign_out"))
    assert [attempt(client=own) for _ in range(TOGETHER.tries)][-1] == 429


def test_a_cookie_of_ones_own_making_is_nobodys(cast: Cast) -> None:
    """Neither made up nor somebody else's."""
    mates = Client()
    assert attempt("mate", PASSWORD, client=mates) == 302
    mates.post(reverse("sign_out"))
    for number in range(BY_NAME.tries):
        attempt(at=f"203.0.113.{1 + number // 4}")
    assert attempt(password=PASSWORD, client=mates) == 429
    forged = Client()
    forged.cookies["known"] = "0" * 32
    assert attempt(password=PASSWORD, client=forged) == 429


def test_the_page_says_how_to_get_in(cast: Cast) -> None:
    """For how long, and what helps at once."""
    for _ in range(TOGETHER.tries):
        attempt()
    answer = Client().post(reverse("sign_in"), {"username": "teacher", "password": "x"}, REMOTE_ADDR=SCHOOL)
    page = answer.content.decode()
    assert "15 minutes" in page
    assert "Ask your coordinator" in page
    assert 0 < int(answer["Retry-After"]) <= 15 * 60


def test_the_password_form_of_an_open_session_is_limited(cast: Cast) -> None:
    """On the page and in the API together; whoever found an open session doesn't guess on."""
    client = Client()
    client.force_login(cast.teacher)
    page = {
        "old_password": "not-it",
        "new_password1": "a-password-of-ones-own",
        "new_password2": "a-password-of-ones-own",
    }
    assert [client.post(reverse("password_change"), page).status_code for _ in range(3)] == [200] * 3
    body = {"old_password": "not-it", "new_password": "a-password-of-ones-own"}

    def ask() -> int:
        return client.post(f"{API}/own-password/", body, content_type="application/json").status_code

    assert [ask(), ask()][0] == 400
    assert ask() == 429
    right = {**page, "old_password": PASSWORD}
    answer = client.post(reverse("password_change"), right)
    assert answer.status_code == 429
    assert "Nothing is taken" in answer.content.decode()


def test_what_the_browser_says_and_what_was_typed_is_not_kept(cast: Cast) -> None:
    """A name typed into the wrong field, and the program that somebody uses, are nobody's business."""
    attempt()
    row = AccessFailureLog.objects.get()
    assert (row.username, row.ip_address, row.http_accept, row.path_info) == ("teacher", SCHOOL, "", "")
    assert row.user_agent == "other"


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("198.51.100.7", "198.51.100.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),
        ("::ffff:198.51.100.7", "198.51.100.7"),
        ("unix:", None),
    ],
)
def test_an_ipv6_network_counts_as_one(address: str, counted: str | None) -> None:
    """RFC 4291: the last 64 bits are an interface's, and whoever has a network has all of them."""
    assert counted_as(address) == counted


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(1, "1 minute"), (61, "2 minutes"), (5400, "90 minutes"), (5401, "2 hours"), (86400 * 3, "3 days")],
)
def test_how_long_is_said_rounded_up(seconds: int, words: str) -> None:
    """Nobody comes back too early."""
    assert wait_words(NOW + dt.timedelta(seconds=seconds), NOW) == words
