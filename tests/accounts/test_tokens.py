"""Tokens of programs: what they may, until when, how often, and what never opens to them.

A bearer token in the header: RFC 6750. The headers of limits: draft-ietf-httpapi-ratelimit-headers.
"""

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from accounts.models import ApiToken, AuditEntry, Person, SignInRules
from accounts.tokens.rates import ALLOWED
from accounts.tokens.services import LONGEST, token_make
from caseload.access.models import Access
from tests.api import API
from tests.conftest import PASSWORD, Cast, date_there


def make(person: Person, scope: str = "write", days: int = 30) -> str:
    """A token of somebody."""
    last = date_there() + dt.timedelta(days=days)
    return token_make(actor=person, name="sheet", scope=scope, last_day=last)[1]


def ask(token: str, path: str, method: str = "get", body: Any = None) -> Any:
    """What the API answers a program. It checks forged forms, as a server does."""
    client = Client(enforce_csrf_checks=True, headers={"Authorization": f"Bearer {token}"})
    return (
        getattr(client, method)(f"{API}/{path}", body, content_type="application/json")
        if body is not None
        else (getattr(client, method)(f"{API}/{path}"))
    )


def test_it_may_what_its_person_may_and_no_more(cast: Cast) -> None:
    """A teacher's sees the own students; another district's is a 404; a page isn't open to it at all."""
    token = make(cast.teacher)
    found = ask(token, "students/").json()["results"]
    assert [one["code"] for one in found] == ["S01"]
    assert ask(token, f"students/{cast.mates_student.pk}/").status_code == 404
    assert ask(token, "people/", "post", {"role": "teacher"}).status_code == 403
    client = Client(headers={"Authorization": f"Bearer {token}"})
    assert client.get("/students/").status_code == 302


def test_one_that_reads_changes_nothing(cast: Cast) -> None:
    """One that may change does, without a form's token, since no browser sends the header by itself."""
    change = {"first_name": "Olla"}
    address = f"students/{cast.student.pk}/"
    refused = ask(make(cast.teacher, "read"), address, "patch", change)
    assert (refused.status_code, refused.json()["code"]) == (403, "token_reads_only")
    assert ask(make(cast.teacher, "read"), address).status_code == 200
    assert ask(make(cast.teacher), address, "patch", change).status_code == 200


@pytest.mark.parametrize("wrong", ["mm_nothing-of-ours", "mm_"])
def test_what_is_no_token_is_refused(cast: Cast, wrong: str) -> None:
    """401 with the header that RFC 6750, 3, asks for."""
    answer: HttpResponse = ask(wrong, "students/")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Bearer")


def test_it_ends_with_its_last_day_and_with_its_person(cast: Cast) -> None:
    """And when a second step is needed that isn't there, or the password came from somebody else."""
    token = make(cast.teacher, days=3)
    with time_machine.travel(timezone.now() + dt.timedelta(days=5)):
        assert ask(token, "students/").status_code == 401
    SignInRules.objects.create(district=cast.district, factor_teachers=True, factor_first_day=date_there())
    assert ask(token, "students/").status_code == 401
    SignInRules.objects.all().delete()
    assert ask(token, "students/").status_code == 200
    Person.objects.filter(pk=cast.teacher.pk).update(is_active=False)
    assert ask(token, "students/").status_code == 401


def test_how_one_signs_in_is_not_open_to_it(cast: Cast) -> None:
    """A program that fell into wrong hands makes no other token and changes no password."""
    token = make(cast.teacher)
    for path in ("own-password/", "api-tokens/", "open-sessions/", "second-factors/"):
        assert ask(token, path, "post", {}).json()["code"] == "not_by_token"


def test_so_many_a_minute_and_says_so(cast: Cast) -> None:
    """Each answer says what is left; then 429 until the minute is over, which begins with its first request."""
    token = make(cast.teacher)
    first = ask(token, "district/")
    assert first["RateLimit-Policy"] == f'"minute";q={ALLOWED};w=60'
    assert first["RateLimit"] == f'"minute";r={ALLOWED - 1};t=60'
    row = ApiToken.objects.get()
    began = timezone.now() - dt.timedelta(seconds=12, milliseconds=500)
    ApiToken.objects.update(taken=ALLOWED - 1, minute_began=began)
    assert ask(token, "district/").status_code == 200
    answer = ask(token, "district/")
    # A second more or less, should the database's clock go on to the next meanwhile.
    assert (answer.status_code, answer.json()["code"]) == (429, "too_often")
    assert int(answer["Retry-After"]) in {47, 48}
    assert answer["RateLimit"].startswith('"minute";r=0;t=4')
    ApiToken.objects.update(minute_began=began - dt.timedelta(seconds=50))
    again = ask(token, "district/")
    assert (again.status_code, again["RateLimit"]) == (200, first["RateLimit"])
    row.refresh_from_db()
    assert row.taken == 1


def test_it_is_made_with_the_password_and_shown_once(cast: Cast) -> None:
    """By page and API; kept as a hash; when it was used last can be seen; taken away, it works no longer."""
    client = Client()
    client.force_login(cast.teacher)
    values = {
        "name": "sheet",
        "scope": "read",
        "last_day": (date_there() + dt.timedelta(days=9)).isoformat(),
    }
    wrong = client.post(f"{API}/api-tokens/", {**values, "password": "not-it"}, content_type="application/json")
    assert list(wrong.json()["fields"]) == ["password"]
    made = client.post(
        f"{API}/api-tokens/", {**values, "password": PASSWORD}, content_type="application/json"
    ).json()
    page = client.post(
        "/sign-in/own/tokens/new/", {**values, "name": "board", "password": PASSWORD}
    ).content.decode()
    assert "mm_" in page
    assert ask(made["token"], "students/").status_code == 200
    listed = client.get(f"{API}/api-tokens/").json()["results"]
    assert [one["name"] for one in listed] == ["board", "sheet"]
    assert listed[1]["used_at"] is not None
    assert "token" not in listed[1]
    assert not ApiToken.objects.filter(digest__contains=made["token"]).exists()
    assert "board" in client.get("/sign-in/own/").content.decode()
    assert client.delete(f"{API}/api-tokens/{made['id']}/").status_code == 204
    assert ask(made["token"], "students/").status_code == 401
    assert AuditEntry.objects.filter(action__in=["token_make", "token_remove"]).count() == 3


@pytest.mark.parametrize("days", [-1, LONGEST.days + 2])
def test_a_last_day_is_within_a_year(cast: Cast, days: int) -> None:
    """Neither over nor too far."""
    client = Client()
    client.force_login(cast.teacher)
    last = date_there() + dt.timedelta(days=days)
    values = {"name": "x", "scope": "read", "last_day": last.isoformat(), "password": PASSWORD}
    answer = client.post(f"{API}/api-tokens/", values, content_type="application/json")
    assert list(answer.json()["fields"]) == ["last_day"]


def test_what_it_reads_is_recorded_as_its_persons(cast: Cast) -> None:
    """As if the coordinator had looked."""
    ask(make(cast.coordinator, "read"), f"students/{cast.student.pk}/")
    assert Access.objects.get(kind="view").person == cast.coordinator
