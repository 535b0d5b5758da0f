"""A link to one's own mail address by which one chooses a password: nobody else learns it.

That it works once and ends is OWASP ASVS 5.0, 6.4.1 and 6.4.3; that the page tells nobody who is known is 6.3.8.
"""

import datetime as dt
import re
from email.message import EmailMessage
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import AuditEntry, Person
from config.running.redaction import without_addresses
from jobs.models import Job
from jobs.runner import run_job
from tests.accounts.test_given_passwords import sign_in
from tests.api import API
from tests.conftest import PASSWORD, Cast

FRESH = "a-password-of-ones-own"
GONE = "This link doesn\u2019t work"
ADDRESS = "kim@school.example"


@pytest.fixture(autouse=True)
def mailbox(settings: Any, monkeypatch: pytest.MonkeyPatch, cast: Cast) -> list[EmailMessage]:
    """Mail leaves, and the teacher has an address."""
    backend = {"BACKEND": "django.core.mail.backends.locmem.EmailBackend"}
    monkeypatch.setitem(settings.MAILERS, "default", backend)
    Person.objects.filter(pk=cast.teacher.pk).update(email=ADDRESS)
    cast.teacher.refresh_from_db()
    mail.outbox = []
    return mail.outbox  # type: ignore[return-value]  # Django's own mails


def send_all() -> None:
    """Do the work that waits."""
    for job in Job.objects.filter(state=Job.State.WAITING):
        run_job(job.pk)


def links() -> list[str]:
    """The addresses in the mails, without the host."""
    return [re.findall(r"https?://[^/\s]+(/\S+)", str(one.body))[0] for one in mail.outbox]


def forget(address: str = ADDRESS) -> str:
    """Ask for a link; the page that came."""
    page = Client().post(reverse("password_forgot"), {"email": address}).content.decode()
    send_all()
    return page[page.index("<main") :]


def choose(link: str, password: str = FRESH) -> tuple[int, str]:
    """Open a link and choose."""
    client = Client()
    page = client.get(link, follow=True)
    where = page.redirect_chain[-1][0] if page.redirect_chain else link
    answer = client.post(where, {"new_password1": password, "new_password2": password}, follow=True)
    return answer.status_code, answer.content.decode()


def test_a_link_comes_and_works_once(cast: Cast) -> None:
    """The old password doesn't work anymore, sessions end, and the lockout is lifted."""
    inside, _ = sign_in("teacher", PASSWORD)
    [sign_in("teacher", "not-it") for _ in range(6)]
    forget()
    [link] = links()
    assert "Sign in with it" in choose(link)[1]
    assert inside.get(reverse("building_list")).status_code == 302
    assert sign_in("teacher", FRESH)[1]
    assert not sign_in("teacher", PASSWORD)[1]
    assert GONE in Client().get(link, follow=True).content.decode()
    assert AuditEntry.objects.filter(action="password_by_link_choose", actor=cast.teacher).count() == 1


def test_the_page_says_the_same_to_everybody(cast: Cast) -> None:
    """Known, unknown, stopped: word for word, and only one mail."""
    Person.objects.filter(pk=cast.mate.pk).update(email="mate@school.example", is_active=False)
    said = {forget(one) for one in (ADDRESS.upper(), "nobody@school.example", "mate@school.example")}
    assert len(said) == 1
    assert [one.to for one in mail.outbox] == [[ADDRESS]]


def test_it_ends(cast: Cast) -> None:
    """After a day, and as soon as somebody signs in or another password is set."""
    forget()
    [link] = links()
    with time_machine.travel(timezone.now() + dt.timedelta(hours=24, minutes=1)):
        assert GONE in Client().get(link, follow=True).content.decode()
    sign_in("teacher", PASSWORD)
    assert GONE in Client().get(link, follow=True).content.decode()


def test_a_given_password_is_over_with_it(cast: Cast) -> None:
    """Who chose by a link isn't asked to choose again."""
    Person.objects.filter(pk=cast.teacher.pk).update(given_password_ends=timezone.now() + dt.timedelta(days=3))
    forget()
    choose(links()[0])
    client, inside = sign_in("teacher", FRESH)
    assert inside
    assert client.get(reverse("building_list")).status_code == 200


def test_a_poor_password_is_refused_in_words(cast: Cast) -> None:
    """By the rules that hold everywhere; the link still works after that."""
    forget()
    [link] = links()
    assert "too short" in choose(link, "short")[1]
    assert "Sign in with it" in choose(link)[1]


def test_nobodys_mail_box_is_filled(cast: Cast) -> None:
    """Three within an hour."""
    for _ in range(8):
        forget()
    assert len(mail.outbox) == 3


def test_a_coordinator_has_one_sent_and_never_learns_a_password(cast: Cast) -> None:
    """By the page and the API; a new person with an address gets one, too."""
    client = Client()
    client.force_login(cast.coordinator)
    client.post(reverse("person_link", args=[cast.teacher.pk]))
    send_all()
    assert client.post(f"{API}/people/{cast.teacher.pk}/password-link/").status_code == 204
    send_all()
    values = {
        "first_name": "Petra",
        "last_name": "Wren",
        "username": "pwren",
        "email": "p@school.example",
        "role": "teacher",
    }
    page = client.post(reverse("person_new"), values, follow=True).content.decode()
    send_all()
    assert "A link is on its way" in page
    assert [one.to[0] for one in mail.outbox] == [ADDRESS, ADDRESS, "p@school.example"]
    assert "Sign in with it" in choose(links()[-1])[1]
    assert sign_in("pwren", FRESH)[1]


def test_without_an_address_or_a_mail_server_it_says_so(
    cast: Cast, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And what works instead."""
    client = Client()
    client.force_login(cast.coordinator)
    assert client.post(f"{API}/people/{cast.mate.pk}/password-link/").json()["code"] == "no_address"
    console = {"BACKEND": "django.core.mail.backends.console.EmailBackend"}
    monkeypatch.setitem(settings.MAILERS, "default", console)
    assert client.post(f"{API}/people/{cast.teacher.pk}/password-link/").json()["code"] == "no_mail"
    page = Client().get(reverse("password_forgot")).content.decode()
    assert "This site sends no mail" in page
    forget()
    assert not Job.objects.exists()


def test_the_secret_is_in_no_log(cast: Cast) -> None:
    """A server's own log of requests goes through the same filter."""
    forget()
    [link] = links()
    secret = link.rstrip("/").split("/")[-1]
    assert secret not in without_addresses(f'"GET {link} HTTP/1.1" 302')
