"""Lists of the API are paged by cursors: what changes in between makes no row come twice or not at all."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client

from accounts.tokens.services import token_make
from caseload.plans.models import Student
from tests.api import API, Api
from tests.conftest import Cast, date_there, make_student

pytestmark = pytest.mark.django_db
EACH = 100


def _page(client: Client, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200, answer.content
    return answer.json()


@pytest.fixture
def client(cast: Cast) -> Client:
    found = Client()
    found.force_login(cast.teacher)
    return found


def test_rows_added_deleted_and_renamed_while_paging(cast: Cast, client: Client) -> None:
    """By the page's own order, last names, each of the three would have moved rows across a page's end."""
    for number in range(2 * EACH + 20):
        make_student(cast.district, cast.north, cast.teacher, f"P{number:03}")
    before = set(Student.objects.visible_to(cast.teacher).values_list("pk", flat=True))
    address, told, removed = f"{API}/students/", [], set()
    while address:
        page = _page(client, address)
        told += [one["id"] for one in page["results"]]
        address = page["next"]
        # One comes that is first by name, one of this page goes, and the last of all is renamed to the front.
        make_student(cast.district, cast.north, cast.teacher, f"A{len(told)}")
        Student.objects.filter(code=f"A{len(told)}").update(last_name="Aaa")
        Student.objects.filter(pk=max(before)).update(last_name="Aab")
        removed.add(told[-1])
        Student.objects.filter(pk=told[-1]).delete()
    assert len(told) == len(set(told))
    assert before <= set(told)
    assert len(removed) == 3


def test_back_again_and_how_many_there_are(cast: Cast, client: Client) -> None:
    for number in range(EACH):
        make_student(cast.district, cast.north, cast.teacher, f"P{number:03}")
    first = _page(client, f"{API}/students/")
    assert (first["count"], len(first["results"]), first["previous"]) == (EACH + 1, EACH, None)
    second = _page(client, first["next"])
    assert (second["count"], len(second["results"]), second["next"]) == (EACH + 1, 1, None)
    assert _page(client, second["previous"])["results"] == first["results"]


def test_the_newest_come_first_where_the_newest_matter(cast: Cast) -> None:
    last = date_there() + dt.timedelta(days=30)
    for name in ("first", "second", "third"):
        token_make(actor=cast.teacher, name=name, scope="read", last_day=last)
    told = Api(cast.teacher).get("api-tokens/")["results"]
    assert [one["name"] for one in told] == ["third", "second", "first"]


@pytest.mark.parametrize("cursor", ["a", "cD1hYmM=", "cD05OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "cD0lMDA="])
def test_a_cursor_that_was_made_up_is_refused(client: Client, cursor: str) -> None:
    """No base64 (one letter); a key of letters; one larger than any; a byte that no database takes."""
    answer = client.get(f"{API}/students/", {"cursor": cursor})
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


def test_numbered_pages_are_refused(client: Client) -> None:
    """A program that counts pages would read the first again and again, without end."""
    answer = client.get(f"{API}/students/", {"page": "2"})
    assert (answer.status_code, answer.json()["code"]) == (400, "by_cursor")
    assert "follow `next`" in answer.json()["message"]
