"""Invitations of many: sent, printed, sent again, taken back, used once, ended.

That a first secret is random, works once, and expires after a short time is OWASP ASVS 5.0, 6.4.1. That a page
with a secret isn't kept by the browser is 14.3.2 there. How many days are usual and at most: common practice,
no source.
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

from accounts.invitations.selectors import secret_digest
from accounts.models import AuditEntry, Invitation, Person
from accounts.people.services import person_active_set, person_password_give, person_save
from config.running.redaction import without_addresses
from jobs.models import Job
from jobs.runner import run_job
from tests.accounts.test_given_passwords import sign_in
from tests.api import API
from tests.conftest import Cast

FRESH = "a-password-of-ones-own"
GONE = "This invitation doesn\u2019t work"


@pytest.fixture(autouse=True)
def mailbox(settings: Any, monkeypatch: pytest.MonkeyPatch) -> list[EmailMessage]:
    """Mail leaves."""
    backend = {"BACKEND": "django.core.mail.backends.locmem.EmailBackend"}
    monkeypatch.setitem(settings.MAILERS, "default", backend)
    mail.outbox = []
    return mail.outbox  # type: ignore[return-value]  # Django's own mails


@pytest.fixture
def fresh(cast: Cast) -> list[Person]:
    """Two who were added and have no password; the second without an address."""
    values = {"role": "teacher", "first_name": "Petra", "last_name": "Wren"}
    return [
        person_save(actor=cast.coordinator, row=Person(district=cast.district), values={**values, **more})
        for more in (
            {"username": "pwren", "email": "p@school.example"},
            {"username": "qwren", "first_name": "Quill"},
        )
    ]


def coordinator(cast: Cast) -> Client:
    """The coordinator's browser."""
    client = Client()
    client.force_login(cast.coordinator, backend="accounts.sign_in.backends.PasswordBackend")
    return client


def send_all() -> None:
    """Do the work that waits."""
    for job in Job.objects.filter(state=Job.State.WAITING):
        run_job(job.pk)


def invite(client: Client, *people: Person, how: str = "mail", days: int = 7, **more: object) -> str:
    """Press the button; the page that comes."""
    values = {"people": [one.pk for one in people], "how": how, "days": days, **more}
    page = client.post(reverse("invitations_send"), values, follow=True).content.decode()
    send_all()
    return page


def mailed() -> list[str]:
    """The addresses in the mails, without the host."""
    return [re.findall(r"https?://[^/\s]+(/\S+)", str(one.body))[0] for one in mail.outbox]


def printed(page: str) -> list[str]:
    """The addresses on the slips, without the host."""
    return re.findall(r"<code>https?://[^/<]+(/[^<]+)</code>", page)


def opened(link: str) -> str:
    """What a browser of nobody shows there."""
    return Client().get(link, follow=True).content.decode()


def choose(link: str, password: str = FRESH) -> str:
    """Open a link and choose."""
    client = Client()
    page = client.get(link, follow=True)
    where = page.redirect_chain[-1][0] if page.redirect_chain else link
    return client.post(where, {"new_password1": password, "new_password2": password}, follow=True).content.decode()


def test_a_link_comes_by_mail_and_works_once(cast: Cast, fresh: list[Person]) -> None:
    """Who was invited chooses a password, signs in, and is under those who have come in."""
    client = coordinator(cast)
    page = invite(client, fresh[0])
    assert "An invitation is on its way to the mail address of Petra Wren" in page
    [link] = mailed()
    assert mail.outbox[0].to == ["p@school.example"]
    assert "pwren" in opened(link)
    assert "Sign in with it" in choose(link)
    assert sign_in("pwren", FRESH)[1]
    assert GONE in opened(link)
    page = client.get(reverse("invitations")).content.decode()
    assert "Petra Wren" in page[page.index("Come in:") :]
    assert Invitation.objects.get().used_at is not None


def test_only_a_hash_of_the_link_is_kept(cast: Cast, fresh: list[Person]) -> None:
    """In the table, and nothing of it in the jobs, the audit or a log."""
    invite(coordinator(cast), fresh[0])
    [link] = mailed()
    secret = link.rstrip("/").split("/")[-1]
    assert Invitation.objects.get().digest == secret_digest(secret)
    kept = [*Job.objects.values_list("payload"), *AuditEntry.objects.values_list("changes")]
    assert secret not in str(kept)
    assert secret not in without_addresses(f'"GET {link} HTTP/1.1" 302')


def test_the_mail_says_until_when_in_the_districts_time(cast: Cast, fresh: list[Person]) -> None:
    """The district is in New York: five hours behind UTC in winter (IANA time zone database)."""
    with time_machine.travel(dt.datetime(2026, 12, 1, 3, 30, tzinfo=dt.UTC), tick=False):
        invite(coordinator(cast), fresh[0], days=3)
    assert "December 3, 2026, 10:30 PM" in str(mail.outbox[0].body)


def test_nobody_is_sent_a_second_one_unasked(cast: Cast, fresh: list[Person]) -> None:
    """The same press twice sends one mail, the work run twice as well; asked for again, the first link is dead."""
    client = coordinator(cast)
    invite(client, fresh[0])
    assert "has an invitation that still works" in invite(client, fresh[0])
    job = Job.objects.get()
    Job.objects.filter(pk=job.pk).update(state=Job.State.WAITING)
    send_all()
    assert len(mail.outbox) == 1
    invite(client, fresh[0], again="yes")
    first, second = mailed()
    assert GONE in opened(first)
    assert GONE not in opened(second)


def test_it_ends_on_the_day_that_was_chosen(cast: Cast, fresh: list[Person]) -> None:
    """A minute before it works; then the person can be invited anew without being asked twice."""
    client, begun = coordinator(cast), timezone.now()
    invite(client, fresh[0], days=2)
    [link] = mailed()
    with time_machine.travel(begun + dt.timedelta(days=2, minutes=-1)):
        assert GONE not in opened(link)
    with time_machine.travel(begun + dt.timedelta(days=2, minutes=1)):
        assert GONE in opened(link)
        page = coordinator(cast).get(reverse("invitations")).content.decode()
        assert "The invitation ended" in page[: page.index("Invited: 0")]


@pytest.mark.parametrize("days", [0, 31])
def test_days_are_within_bounds(cast: Cast, fresh: list[Person], days: int) -> None:
    """Said at the field; nothing is sent. The API says the same."""
    client = coordinator(cast)
    assert "A link works for 1 to 30 days" in invite(client, fresh[0], days=days)
    sent = {"people": [fresh[0].pk], "days": days}
    answer = client.post(f"{API}/invitations/send/", sent, content_type="application/json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["days"])
    assert not Invitation.objects.exists()


def test_one_is_taken_back(cast: Cast, fresh: list[Person]) -> None:
    """Its link is dead, also one whose mail hasn't left; a second press says that there is none."""
    client = coordinator(cast)
    invite(client, fresh[0])
    address = reverse("invitation_take_back", args=[fresh[0].pk])
    assert "opens nothing anymore" in client.post(address, follow=True).content.decode()
    assert GONE in opened(mailed()[0])
    assert "There is no invitation to take back" in client.post(address, follow=True).content.decode()
    client.post(reverse("invitations_send"), {"people": [fresh[0].pk], "how": "mail", "days": 7})
    assert client.post(f"{API}/invitations/{fresh[0].pk}/take-back/").status_code == 204
    send_all()
    assert len(mail.outbox) == 1


def test_slips_are_shown_once(cast: Cast, fresh: list[Person]) -> None:
    """One for each, also without an address; the page isn't kept, and another press makes no second link."""
    client = coordinator(cast)
    values = {"everyone": "yes", "how": "paper", "days": 7}
    answer = client.post(reverse("invitations_send"), values)
    assert "no-store" in answer["Cache-Control"]
    links = printed(answer.content.decode())
    assert len(links) == len(set(links)) == 2
    assert not mail.outbox
    again = invite(client, *fresh, how="paper")
    assert not printed(again)
    assert [GONE in opened(one) for one in links] == [False, False]
    assert "Sign in with it" in choose(links[1])


def test_without_an_address_nothing_is_mailed(cast: Cast, fresh: list[Person]) -> None:
    """It is said of whom, and the others get theirs."""
    page = invite(coordinator(cast), everyone="yes")
    assert "Quill Wren has no mail address: add one, or print the invitation." in page
    assert [one.to for one in mail.outbox] == [["p@school.example"]]


def test_without_mail_slips_are_what_there_is(
    cast: Cast, fresh: list[Person], settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page offers no mail, and the API says so."""
    console = {"BACKEND": "django.core.mail.backends.console.EmailBackend"}
    monkeypatch.setitem(settings.MAILERS, "default", console)
    client = coordinator(cast)
    page = client.get(reverse("invitations")).content.decode()
    assert 'value="mail"' not in page
    assert 'value="paper"' in page
    sent = {"people": [one.pk for one in fresh]}
    answer = client.post(f"{API}/invitations/send/", sent, content_type="application/json")
    assert answer.json()["code"] == "no_mail"
    assert len(printed(invite(client, *fresh, how="paper"))) == 2


def test_a_mail_that_the_server_refuses_is_said(
    cast: Cast, fresh: list[Person], settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The person is among those to invite again, and the work is among what broke off."""
    nowhere = {
        "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
        "OPTIONS": {"host": "127.0.0.1", "port": 1},
    }
    monkeypatch.setitem(settings.MAILERS, "default", nowhere)
    client = coordinator(cast)
    invite(client, fresh[0])
    page = client.get(reverse("invitations")).content.decode()
    assert "The mail server refused the mail" in page[: page.index("Invited: 0")]
    assert Job.objects.get().state == Job.State.FAILED


def test_what_ends_a_link(cast: Cast, fresh: list[Person]) -> None:
    """A given password, another mail address, being deactivated; who has come in isn't invited."""
    client = coordinator(cast)
    invite(client, fresh[0])
    person_password_give(actor=cast.coordinator, row=fresh[0])
    assert GONE in opened(mailed()[0])
    invite(client, fresh[0])
    person_save(actor=cast.coordinator, row=fresh[0], values={"email": "other@school.example"})
    assert GONE in opened(mailed()[1])
    invite(client, fresh[0])
    assert GONE not in opened(mailed()[2])
    person_active_set(actor=cast.coordinator, row=fresh[0], active=False)
    assert GONE in opened(mailed()[2])
    assert f"{cast.teacher} has come in already" in invite(client, cast.teacher)
    assert len(mail.outbox) == 3


def test_a_poor_password_is_refused_and_the_link_still_works(cast: Cast, fresh: list[Person]) -> None:
    """By the rules that hold everywhere."""
    invite(coordinator(cast), fresh[0])
    [link] = mailed()
    assert "too short" in choose(link, "short")
    assert "Sign in with it" in choose(link)


def test_the_role_can_still_be_corrected(cast: Cast, fresh: list[Person]) -> None:
    """An invitation is no work that somebody did."""
    invite(coordinator(cast), fresh[0])
    row = person_save(actor=cast.coordinator, row=fresh[0], values={"role": "substitute"})
    assert row.role == "substitute"


def test_the_api_does_what_the_page_does(cast: Cast, fresh: list[Person]) -> None:
    """How far everybody is, sent and printed; another district's people aren't there."""
    client = coordinator(cast)

    def standings() -> dict[int, str]:
        rows = client.get(f"{API}/invitations/").json()["results"]
        return {one["id"]: one["standing"] for one in rows}

    def post(what: str, *people: Person, **more: object) -> Any:
        sent = {"people": [one.pk for one in people], **more}
        return client.post(f"{API}/invitations/{what}/", sent, content_type="application/json")

    assert [standings()[one.pk] for one in (*fresh, cast.teacher)] == ["not_invited", "not_invited", "come_in"]
    told = post("send", *fresh).json()
    assert told["people"] == [fresh[0].pk]
    assert [one["person"] for one in told["left_out"]] == [fresh[1].pk]
    assert standings()[fresh[0].pk] == "sending"
    send_all()
    assert standings()[fresh[0].pk] == "invited"
    answer = post("slips", *fresh, again=True)
    assert "no-store" in answer["Cache-Control"]
    assert [one["username"] for one in answer.json()["slips"]] == ["pwren", "qwren"]
    assert post("slips", cast.stranger).status_code == 400
    assert cast.stranger.pk not in standings()


def test_many_cost_no_more_statements_than_a_few(cast: Cast, django_assert_max_num_queries: Any) -> None:
    """Forty at once in one sending of two jobs. Our own measure, no source."""
    for number in range(40):
        Person.objects.create(
            username=f"n{number}", email=f"n{number}@school.example", password="!", district=cast.district
        )
    client = coordinator(cast)
    with django_assert_max_num_queries(40):
        client.post(reverse("invitations_send"), {"everyone": "yes", "how": "mail", "days": 7})
    assert Job.objects.count() == 2
    send_all()
    assert len(mail.outbox) == len(set(mailed())) == 40
