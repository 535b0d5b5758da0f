"""What docs/api.md shows is run as it stands there, against a server."""

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from pytest_django.live_server_helper import LiveServer

from accounts.errors import PROBLEM
from accounts.tokens.services import token_make
from caseload.plans.models import Student
from tests.api import API
from tests.conftest import date_there, make_cast

DOCS = Path(__file__).resolve().parents[2] / "docs" / "api.md"


@pytest.mark.django_db(transaction=True)
def test_the_examples_run(live_server: LiveServer) -> None:
    """Read with a token, change with If-Match, be refused with problem details."""
    cast = make_cast()
    last = date_there() + dt.timedelta(days=30)
    _, token = token_make(actor=cast.teacher, name="docs", scope="write", last_day=last)
    values: dict[str, Any] = {"site": live_server.url, "token": token}
    blocks = re.findall(r"```python\n(.*?)```", DOCS.read_text(), re.DOTALL)
    assert len(blocks) == 4
    for block in blocks:
        exec(block, values)  # noqa: S102 -- our own docs
    assert [one["code"] for one in values["students"]] == [one["code"] for one in values["everyone"]] == ["S01"]
    assert values["changed"]["grade"] == "4"
    assert Student.objects.get(code="S01").grade == "4"
    # RFC 9457, 3.1: these members; the code stays beside them.
    told = {"type": "about:blank", "title": "Not Found", "status": 404, "code": "not_found"}
    assert told.items() <= values["problem"].items()
    assert values["problem"]["detail"]


@pytest.mark.django_db
def test_a_change_of_what_was_changed_meanwhile_is_refused() -> None:
    """RFC 9110, 13.1.1: 412, and nothing is changed; the new tag lets it through, `*` anything that is there."""
    cast = make_cast()
    client = Client()
    client.force_login(cast.teacher)
    address = f"{API}/students/{cast.student.pk}/"
    tag = client.get(address)["ETag"]

    def patch(told: str, **values: str) -> Any:
        return client.patch(address, values, content_type="application/json", headers={"If-Match": told})

    first = patch(tag, grade="4")
    assert first.status_code == 200
    assert first["ETag"] == client.get(address)["ETag"] != tag
    late = patch(tag, grade="5")
    assert (late.status_code, late.json()["code"]) == (412, "changed_meanwhile")
    assert client.delete(address, headers={"If-Match": tag}).status_code == 412
    assert Student.objects.get(pk=cast.student.pk).grade == "4"
    assert patch(f'"other", {first["ETag"]}', grade="5").status_code == 200
    assert patch("*", grade="6").status_code == 200


@pytest.mark.django_db
def test_problem_details_come_whatever_was_asked_for() -> None:
    """RFC 9457, 3: also where the refusal comes before any view, as without a sign-in."""
    for accepted in ("application/json", f"application/json, {PROBLEM}", "*/*"):
        answer = Client(headers={"Accept": accepted}).get(f"{API}/students/")
        assert answer["Content-Type"] == PROBLEM
        told = answer.json()
        assert set(told) == {"type", "title", "status", "detail", "code", "message", "fields"}
        assert (told["status"], answer.status_code, told["detail"]) == (403, 403, told["message"])
