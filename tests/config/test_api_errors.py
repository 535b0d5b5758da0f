"""Every error of the API has one shape: a code for programs, a message for people, problems by field."""

import pytest
from django.core.exceptions import ValidationError
from rest_framework import exceptions
from rest_framework.test import APIClient

from accounts.errors import ApplicationError
from config.api_errors import handle
from tests.api import API, Api
from tests.conftest import Cast

# RFC 9457, 3.1, and our own beside them.
MEMBERS = {"type", "title", "status", "detail", "code", "message", "fields"}


def _handled(error: Exception) -> tuple[int, dict[str, object]]:
    response = handle(error, {})
    assert response is not None
    assert set(response.data) == {"code", "message", "fields"}
    return response.status_code, response.data


def test_an_application_error_keeps_its_words() -> None:
    """Code, message and status are the service's."""
    status, data = _handled(ApplicationError("Somebody else was faster.", code="changed_meanwhile"))
    assert (status, data["code"], data["message"]) == (409, "changed_meanwhile", "Somebody else was faster.")


def test_a_services_validation_error_comes_by_field() -> None:
    """As does the API's own, nested lists by place."""
    status, data = _handled(ValidationError({"name": ["Give one."], "__all__": ["Choose one of two."]}))
    assert (status, data["fields"]) == (400, {"name": ["Give one."], "": ["Choose one of two."]})
    _status, data = _handled(ValidationError("Choose one of two."))
    assert data["fields"] == {"": ["Choose one of two."]}
    _status, data = _handled(exceptions.ValidationError({"periods": [{}, {"end": ["Too early."]}]}))
    assert data["fields"] == {"periods.1.end": ["Too early."]}


def test_what_nobody_foresaw_is_not_swallowed() -> None:
    """The handler leaves it to the server's error page."""
    assert handle(ZeroDivisionError(), {}) is None


@pytest.mark.django_db
def test_a_missing_row_and_a_bad_address_look_alike(cast: Cast) -> None:
    """A number that isn't there, words in place of a number, and no such route."""
    api = Api(cast.teacher)
    bodies = [api.get(path, expect=404) for path in ("buildings/999999/", "buildings/x/", "nothing/")]
    assert {body["code"] for body in bodies} == {"not_found"}
    assert all(set(body) == MEMBERS for body in bodies)


@pytest.mark.django_db
def test_nobody_in_particular_is_refused(cast: Cast) -> None:
    """Not signed in."""
    body = Api(None).get("buildings/", expect=403)
    assert body["code"] == "not_authenticated"


@pytest.mark.django_db
def test_a_broken_body_is_named(cast: Cast) -> None:
    """JSON that isn't, and a list where an object belongs."""
    client = APIClient()
    client.force_login(cast.teacher)
    broken = client.post(f"{API}/buildings/", b"{", content_type="application/json")
    assert (broken.status_code, broken.json()["code"]) == (400, "parse_error")
    listed = client.post(f"{API}/buildings/", [1], format="json")
    assert (listed.status_code, listed.json()["code"]) == (400, "invalid")


@pytest.mark.django_db
def test_a_write_needs_the_forms_token(cast: Cast) -> None:
    """Another site can't make a signed-in browser write: without the CSRF token it is refused, with it not."""
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(cast.teacher)
    path, values = f"{API}/buildings/{cast.north.pk}/", {"arrive_minutes": 9}
    refused = client.patch(path, values, format="json")
    assert (refused.status_code, set(refused.json())) == (403, MEMBERS)
    token = "a" * 32
    client.cookies["csrftoken"] = token
    assert client.patch(path, values, format="json", headers={"x-csrftoken": token}).status_code == 200
