"""Many sendings in one request: each is what it would have been alone.

424 is RFC 4918 (section 11.4), 422 draft-ietf-httpapi-idempotency-key-header-06, `Prefer` RFC 7240 (section 4.2).
"""

import datetime as dt
import itertools
from typing import Any

import pytest
from django.test import Client

from accounts.idempotency.together import MOST, SECONDS, OneSending, sendings_carry
from accounts.models import AuditEntry, IdempotencyKey, Person
from accounts.sign_in.phone_key import phone_key
from schedule.calendar.models import Happening
from tests.conftest import Cast

URL = "/api/1/sendings/"
SAY = "/api/1/happenings/"


TOKEN = "t" * 32


def client_of(person: Person, token: str = TOKEN) -> Client:
    """With the token against forgery, which each part of a request is asked for."""
    found = Client(enforce_csrf_checks=True, headers={"X-CSRFToken": token})
    found.force_login(person)
    found.cookies["csrftoken"] = TOKEN
    return found


def away(number: int, **values: Any) -> dict[str, Any]:
    """Somebody is away on a day of their own."""
    day = dt.date(2026, 9, 14) + dt.timedelta(days=number)
    body = {"kind": "away", "first_date": day.isoformat(), **values.pop("body", {})}
    return {"key": f"key-number-{number}", "url": SAY, "body": body, **values}


def carry(client: Client, *sendings: dict[str, Any], **headers: str) -> Any:
    return client.post(URL, {"sendings": list(sendings)}, content_type="application/json", headers=headers)


def told(answer: Any) -> list[tuple[int, str]]:
    """Of each the status, and what a program reads of a refusal."""
    return [(one["status"], (one["body"] or {}).get("code", "")) for one in answer.json()["answers"]]


def test_each_is_taken_once_in_order(cast: Cast) -> None:
    client = client_of(cast.teacher)
    first = carry(client, away(0), away(1), away(2))
    assert (first.status_code, told(first)) == (200, [(201, "")] * 3)
    rows = list(Happening.objects.order_by("pk"))
    assert [one.first_date.day for one in rows] == [14, 15, 16]
    assert [one["body"]["id"] for one in first.json()["answers"]] == [one.pk for one in rows]
    again = carry(client, away(2), away(3), away(0))
    assert told(again) == [(201, "taken_before"), (201, ""), (201, "taken_before")]
    assert again.json()["answers"][2]["body"]["id"] == str(rows[0].pk)
    assert Happening.objects.count() == 4


def test_one_alone_and_one_of_many_are_the_same_sending(cast: Cast) -> None:
    """An answer was lost when it came alone; then it goes with others, and the other way around."""
    client = client_of(cast.teacher)

    def alone(number: int) -> Any:
        told, keyed = away(number), {"Idempotency-Key": f'"key-number-{number}"'}
        return client.post(SAY, told["body"], content_type="application/json", headers=keyed)

    alone(0)
    assert told(carry(client, away(0), away(1))) == [(201, "taken_before"), (201, "")]
    assert alone(1).json()["code"] == "taken_before"
    assert Happening.objects.count() == 2


def test_one_that_is_refused_stops_only_what_hangs_on_it(cast: Cast) -> None:
    """Nothing of a refused one is saved, and its key is free; what hangs on it isn't tried, however far."""
    client = client_of(cast.teacher)
    bad = away(0, body={"last_date": "2026-09-01"})
    hanging = [away(1, after=["key-number-0"]), away(2, after=["key-number-1"])]
    answer = carry(client, bad, *hanging, away(3), away(4, after=["key-number-3", "sent-long-ago"]))
    assert told(answer) == [(400, "invalid"), (424, "waits"), (424, "waits"), (201, ""), (201, "")]
    assert [one.first_date.day for one in Happening.objects.order_by("pk")] == [17, 18]
    assert set(IdempotencyKey.objects.values_list("key", flat=True)) == {"key-number-3", "key-number-4"}
    assert told(carry(client, away(0), *hanging)) == [(201, "")] * 3


def test_the_same_key_with_something_else_is_refused(cast: Cast) -> None:
    client = client_of(cast.teacher)
    other = away(0, body={"first_date": "2026-09-30"})
    assert told(carry(client, away(0), other)) == [(201, ""), (422, "idempotency_key_used")]
    assert Happening.objects.count() == 1


def test_a_withdrawn_key_saves_nothing(cast: Cast) -> None:
    client = client_of(cast.teacher)
    withdraw = {"key": "key-of-its-own", "url": "/api/1/withdrawn-keys/", "body": {"key": "key-number-0"}}
    answer = carry(client, withdraw, away(0))
    assert told(answer) == [(200, ""), (422, "idempotency_key_used")]
    assert answer.json()["answers"][0]["body"] == {"taken": False, "id": None}
    assert Happening.objects.count() == 0


def test_what_may_not_be_done_alone_may_not_be_done_with_others(cast: Cast) -> None:
    """The role, another district's row, and nobody in particular."""
    person = {"key": "key-of-a-person", "url": "/api/1/people/", "body": {"username": "new"}}
    entry = {"key": "key-of-a-row", "url": f"/api/1/happenings/{10**6}/take-back/", "body": {}}
    assert told(carry(client_of(cast.teacher), person, entry)) == [(403, "not_for_your_role"), (404, "not_found")]
    assert carry(Client(), away(0)).status_code == 403
    assert (IdempotencyKey.objects.count(), AuditEntry.objects.count()) == (0, 0)


def test_another_person_and_a_forged_page_send_nothing(cast: Cast) -> None:
    refused = carry(client_of(cast.mate), away(0), **{"X-Person": phone_key(cast.teacher)})
    assert (refused.status_code, refused.json()["code"]) == (409, "other_person")
    assert carry(client_of(cast.teacher, token="f" * 32), away(0)).status_code == 403
    assert Happening.objects.count() == 0
    own = {"X-Person": phone_key(cast.teacher)}
    assert told(carry(client_of(cast.teacher), away(0), **own)) == [(201, "")]


def test_an_account_that_is_stopped_in_the_middle_sends_no_more(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each asks anew who is signed in."""
    made = Happening.save

    def stop(row: Happening, *args: Any, **values: Any) -> None:
        made(row, *args, **values)
        Person.objects.filter(pk=cast.teacher.pk).update(is_active=False)

    monkeypatch.setattr(Happening, "save", stop)
    assert told(carry(client_of(cast.teacher), away(0), away(1))) == [(201, ""), (403, "not_authenticated")]
    assert Happening.objects.count() == 1


def test_one_that_breaks_leaves_the_others(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of ours in one of them: nothing of it is saved, and its key is free."""
    client = client_of(cast.teacher)
    client.raise_request_exception = False
    made = Happening.save

    def breaks(row: Happening, *args: Any, **values: Any) -> None:
        made(row, *args, **values)
        if row.first_date.day == 15:
            raise RuntimeError

    with monkeypatch.context() as patched:
        patched.setattr(Happening, "save", breaks)
        answer = carry(client, away(0), away(1), away(2))
    assert told(answer) == [(201, ""), (500, "server_error"), (201, "")]
    assert told(carry(client, away(1))) == [(201, "")]
    assert Happening.objects.count() == 3


@pytest.mark.parametrize(
    "url",
    [
        "/happened/new/",
        "/health/",
        URL,
        "/api/1/own-password/",
        "/api/1/no-such-thing/",
        "//example.org/api/1/happenings/",
        "/api/1/happenings/#part",
        "/api/1/%E9/",
    ],
)
def test_only_operations_of_the_api_that_can_be_one_of_many(cast: Cast, url: str) -> None:
    answer = carry(client_of(cast.teacher), away(0, url=url), away(1))
    assert told(answer) == [(400, "not_an_operation"), (201, "")]


@pytest.mark.parametrize("url", ["https://example.org/api/1/happenings/", "api/1/happenings/", "/api/1/ж/", ""])
def test_what_is_no_path_is_refused_before_anything_is_done(cast: Cast, url: str) -> None:
    answer = carry(client_of(cast.teacher), away(0), away(1, url=url))
    assert (answer.status_code, Happening.objects.count()) == (400, 0)
    assert "sendings.1.url" in answer.json()["fields"]


def test_an_address_is_read_as_any_is(cast: Cast) -> None:
    """Its query, and letters that are written in other ways."""
    url = f"/api/1/days/2026%2D09%2D14/start/?teacher={cast.teacher.pk}"
    sending = {"key": "key-of-a-drive", "url": url, "body": {"leg": "1-2-1"}}
    assert told(carry(client_of(cast.teacher), sending)) == [(409, "other_day")]


def test_no_more_than_so_many_and_no_key_for_all(cast: Cast) -> None:
    client = client_of(cast.teacher)
    assert carry(client, *(away(number) for number in range(MOST + 1))).status_code == 400
    assert carry(client).status_code == 400
    keyed = carry(client, away(0), **{"Idempotency-Key": '"key-for-all"'})
    assert (keyed.status_code, keyed.json()["code"]) == (400, "keys_of_their_own")
    assert (Happening.objects.count(), IdempotencyKey.objects.count()) == (0, 0)


def test_what_isnt_reached_in_time_is_said_and_the_first_always_is(cast: Cast) -> None:
    """A busy server: whoever waits has an answer before they give up, and each request gets something done."""
    request = carry(client_of(cast.teacher), away(9)).wsgi_request
    sendings = [OneSending(**away(number)) for number in range(3)]
    slow = itertools.count(step=SECONDS * 0.75)
    assert [one.status for one in sendings_carry(request, sendings, clock=lambda: next(slow))] == [201, 503, 503]
    assert Happening.objects.count() == 2


def test_who_wants_little_is_told_that_it_was_done(cast: Cast) -> None:
    """A tap on a drive is answered with the whole day otherwise."""
    answer = carry(client_of(cast.teacher), away(0), Prefer="return=minimal")
    assert told(answer) == [(201, "")]
