"""Each sending is taken once: by key, whatever became of the answer.

What is refused is draft-ietf-httpapi-idempotency-key-header-06: 422 for a key that comes with other content.
"""

import datetime as dt
import uuid
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.idempotency.moments import moment_of
from accounts.idempotency.sent import fingerprint, form_content, json_content, key_read
from accounts.idempotency.services import KEPT, Answered, sending_take
from accounts.models import AuditEntry, IdempotencyKey, Person
from accounts.sign_in.phone_key import phone_key
from schedule.calendar.models import Happening
from tests.conftest import Cast

NOON = dt.datetime(2026, 9, 14, 12, tzinfo=dt.UTC)
KEY = "8e03978e-40d5-43e8-bc93-6894a57f9324"
"""Of the form that the draft advises, a UUID."""


def client_of(person: Person) -> Client:
    found = Client()
    found.force_login(person)
    return found


def say(client: Client, key: str = KEY, **values: Any) -> Any:
    """Something happened, by the API."""
    sent = {"kind": "away", "first_date": "2026-09-14", **values}
    return client.post(
        "/api/1/happenings/", sent, content_type="application/json", headers={"Idempotency-Key": f'"{key}"'}
    )


def test_a_key_is_read_with_and_without_quotes() -> None:
    assert key_read(f'"{KEY}"') == key_read(KEY) == KEY
    assert [key_read(text) for text in ("", "short", "with space in it", "a" * 65, '"', "ключключключ")] == [
        None
    ] * 6


def test_the_same_content_has_one_fingerprint() -> None:
    first, second = json_content(b'{"a": 1, "b": 2}'), json_content(b'{"b":2,"a":1}')
    assert fingerprint("POST", "/x/", first) == fingerprint("POST", "/x/", second)
    token = {"csrfmiddlewaretoken": ["one"], "a": ["1", "2"]}
    assert form_content(token.items()) == form_content({**token, "csrfmiddlewaretoken": ["two"]}.items())
    told = {
        fingerprint(*one) for one in (("POST", "/x/", b"ab"), ("POST", "/x/", b"a", b"b"), ("POST", "/xa", b"b"))
    }
    assert len(told) == 3


def test_a_phone_ahead_by_minutes_is_now_and_by_an_hour_is_asked_about() -> None:
    assert moment_of(None, NOON) == NOON
    assert moment_of(NOON - dt.timedelta(hours=5), NOON) == NOON - dt.timedelta(hours=5)
    assert moment_of(NOON + dt.timedelta(minutes=4), NOON) == NOON
    with pytest.raises(ValueError, match="clock may be wrong"):
        moment_of(NOON + dt.timedelta(hours=1), NOON)


def test_an_answer_that_was_lost_is_given_again_and_nothing_is_done_twice(cast: Cast) -> None:
    client = client_of(cast.teacher)
    first, second = say(client), say(client)
    row = Happening.objects.get()
    assert (first.status_code, second.status_code) == (201, 201)
    assert (second.json()["code"], second.json()["id"]) == ("taken_before", str(row.pk))


def test_another_content_under_the_same_key_is_refused(cast: Cast) -> None:
    client = client_of(cast.teacher)
    say(client)
    refused = say(client, first_date="2026-09-15")
    assert (refused.status_code, refused.json()["code"]) == (422, "idempotency_key_used")
    assert Happening.objects.count() == 1


def test_what_was_refused_saved_nothing_and_can_be_sent_again(cast: Cast) -> None:
    client = client_of(cast.teacher)
    assert say(client, first_date="2026-09-14", last_date="2026-09-01").status_code == 400
    assert (IdempotencyKey.objects.count(), Happening.objects.count(), AuditEntry.objects.count()) == (0, 0, 0)
    assert say(client).status_code == 201


def test_a_key_is_the_persons_own(cast: Cast) -> None:
    assert say(client_of(cast.teacher)).status_code == say(client_of(cast.mate)).status_code == 201
    assert Happening.objects.count() == 2
    assert IdempotencyKey.objects.visible_to(cast.teacher).get().person == cast.teacher


def test_what_isnt_a_key_is_said(cast: Cast) -> None:
    refused = say(client_of(cast.teacher), key="x y")
    assert (refused.status_code, refused.json()["code"]) == (400, "idempotency_key_invalid")
    assert Happening.objects.count() == 0


def test_without_a_sign_in_nothing_is_taken(cast: Cast) -> None:
    assert say(Client()).status_code == 403
    page = Client().post(reverse("happening_new"), {"idempotency_key": KEY, "kind": "away"})
    assert (page.status_code, IdempotencyKey.objects.count()) == (302, 0)


def test_a_given_password_turns_the_sending_away_and_the_key_stays_free(cast: Cast) -> None:
    client = client_of(cast.teacher)
    Person.objects.filter(pk=cast.teacher.pk).update(given_password_ends=NOON)
    assert say(client).status_code == 403
    Person.objects.filter(pk=cast.teacher.pk).update(given_password_ends=None)
    assert say(client).status_code == 201


def test_a_form_without_its_token_is_not_taken(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.teacher)
    assert client.post(reverse("happening_new"), {"idempotency_key": KEY, "kind": "away"}).status_code == 403
    assert IdempotencyKey.objects.count() == 0


def test_a_form_sent_twice_leads_where_it_led(cast: Cast) -> None:
    """The page shows what it does first (no key is used up), then carries a key into the saving."""
    client = client_of(cast.teacher)
    shown = client.post(reverse("happening_new"), {"kind": "away", "first_date": "2026-09-14"})
    key = shown.content.decode().partition('name="idempotency_key" value="')[2].partition('"')[0]
    assert uuid.UUID(key)
    sent = {"kind": "away", "first_date": "2026-09-14", "idempotency_key": key}
    assert client.post(reverse("happening_new"), sent).status_code == 200
    first = client.post(reverse("happening_new"), {**sent, "save": "1"})
    again = client.post(reverse("happening_new"), {**sent, "save": "1", "csrfmiddlewaretoken": "another"})
    assert (first.status_code, again.status_code, again["Location"]) == (302, 302, first["Location"])
    assert Happening.objects.count() == 1
    other = client.post(reverse("happening_new"), {**sent, "save": "1", "first_date": "2026-09-15"})
    assert other.status_code == 422
    assert "sent before with something else" in other.content.decode()


def test_what_broke_left_neither_key_nor_work(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_args: object, **_values: object) -> None:
        raise RuntimeError

    client = client_of(cast.teacher)
    client.raise_request_exception = False
    with monkeypatch.context() as patched:
        patched.setattr("schedule.happenings.services.saying.happening_log", breaks)
        assert say(client).status_code == 500
    assert (Happening.objects.count(), IdempotencyKey.objects.count()) == (0, 0)
    assert say(client).status_code == 201


def test_old_keys_go_with_the_next_one(cast: Cast) -> None:
    def take(key: str, now: dt.datetime) -> None:
        sending_take(person=cast.teacher, key=key, content="x", act=lambda: Answered(200), now=now)

    take("first-key", NOON)
    take("second-key", NOON + KEPT)
    assert IdempotencyKey.objects.count() == 2
    take("third-key", NOON + KEPT + dt.timedelta(days=1))
    assert set(IdempotencyKey.objects.values_list("key", flat=True)) == {"second-key", "third-key"}


def test_late_is_from_when_it_was_said(cast: Cast) -> None:
    """Said at 7:40 in a basement, sent at noon: fifteen minutes from 7:40 on."""
    zone = ZoneInfo(cast.district.time_zone)
    said = dt.datetime(2026, 9, 14, 7, 40, tzinfo=zone)
    answer = say(client_of(cast.teacher), kind="late", minutes=15, at=said.isoformat())
    assert answer.status_code == 201, answer.json()
    row = Happening.objects.get()
    assert (row.start, row.end) == (dt.time(7, 40), dt.time(7, 55))


def test_other_content_is_refused_by_the_service_too(cast: Cast) -> None:
    sending_take(person=cast.teacher, key=KEY, content="x", act=lambda: Answered(200))
    with pytest.raises(ApplicationError, match="sent before"), transaction.atomic():
        sending_take(person=cast.teacher, key=KEY, content="y", act=lambda: Answered(200))
    assert IdempotencyKey.objects.get().content == "x"


def test_a_key_is_withdrawn_before_or_after_it_was_taken(cast: Cast) -> None:
    """Answered back on the phone while nobody knew whether it had arrived: what comes later is refused."""
    client = client_of(cast.teacher)

    def withdraw(key: str) -> Any:
        return client.post("/api/1/withdrawn-keys/", {"key": key}, content_type="application/json").json()

    say(client)
    assert withdraw(KEY) == withdraw(KEY) == {"taken": True, "id": str(Happening.objects.get().pk)}
    late = "0f0f0f0f-late"
    assert withdraw(late) == withdraw(late) == {"taken": False, "id": None}
    assert say(client, key=late).json()["code"] == "idempotency_key_used"
    assert Happening.objects.count() == 1


def test_what_one_person_tapped_is_not_sent_by_another(cast: Cast) -> None:
    """A shared phone: the page was the teacher's, and somebody else is signed in by now."""
    client = client_of(cast.mate)
    for headers in ({"Idempotency-Key": KEY}, {}):
        refused = send(client, {**headers, "X-Person": phone_key(cast.teacher)})
        assert (refused.status_code, refused.json()["code"]) == (409, "other_person")
    assert Happening.objects.count() == 0
    assert send(client, {"Idempotency-Key": KEY, "X-Person": phone_key(cast.mate)}).status_code == 201


def send(client: Client, headers: dict[str, str]) -> Any:
    """Something happened, under these headers."""
    told = {"kind": "away", "first_date": "2026-09-14"}
    return client.post("/api/1/happenings/", told, content_type="application/json", headers=headers)
