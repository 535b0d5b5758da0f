"""Ids and dates that no row has and no calendar reaches are answered with a sentence, everywhere."""

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from accounts.models import Person
from accounts.validation import row_validate
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import make_ground, make_week

pytestmark = pytest.mark.django_db

HUGE = "9" * 20
FILTERS = (
    *("students/?building=", "students/?teacher=", "plans/?student=", "service-lines/?student=", "holds/?student="),
    *("classes/?building=", "spaces/?building=", "own-drive-times/?teacher=", "drive-logs/?origin="),
    *("meetings/?teacher=", "calendar-entries/?building=", "marking-periods/?school_year=", "weeks/?teacher="),
    *(
        "log-entries/?student=",
        "log-entries/?service_line=",
        "bell-schedules/?building=",
    ),
)


def _signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.mark.parametrize("path", FILTERS)
def test_a_huge_id_in_a_filter(cast: Cast, path: str) -> None:
    """Says at the filter how far ids go."""
    address, _, name = path.partition("?")
    error = Api(cast.coordinator).get(f"{path}{HUGE}", expect=400)
    assert list(error["fields"]) == [name.rstrip("=")], address
    assert "9223372036854775807" in error["fields"][name.rstrip("=")][0]


def test_a_huge_id_in_a_body(cast: Cast) -> None:
    """Also one that JSON spells as a number without end."""
    api = Api(cast.teacher)
    assert list(api.post("spaces/", expect=400, building=int(HUGE), name="Gym")["fields"]) == ["building"]
    answer = api.client.post(
        "/api/1/spaces/", b'{"building": 1e999, "name": "Gym"}', content_type="application/json"
    )
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["building"])


@pytest.mark.parametrize("month", ["0001-01", "9999-12", "0000-01"])
def test_a_month_off_the_calendar(cast: Cast, month: str) -> None:
    """Mileage and the phone's calendar alike."""
    answer = _signed_in(cast.teacher).get("/mileage/", {"month": month})
    assert answer.status_code == 404
    assert "a month. Use one such as 2026-09." in answer.content.decode()


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01"])
def test_a_booking_off_the_calendar(cast: Cast, day: str) -> None:
    """By page and by API."""
    make_ground(cast)
    values = {"date": day, "start": "09:00", "minutes": 30}
    answer = _signed_in(cast.teacher).post(f"/make-ups/lines/{cast.line.pk}/book/", values)
    assert answer.status_code < 500
    error = Api(cast.teacher).post(f"make-ups/lines/{cast.line.pk}/", expect=400, **values)
    assert error["fields"] == {"date": [f"The year {int(day[:4])} can't be right. Check the date."]}


def test_a_nul_in_a_name(cast: Cast) -> None:
    """PostgreSQL's documentation of character types: NUL can't be stored. Said by page and import alike."""
    make_ground(cast)
    week = make_week(cast, [])
    answer = _signed_in(cast.teacher).post(f"/week/{week.pk}/rename/", {"name": "a\x00b"})
    assert answer.status_code == 422
    assert "(NUL)" in answer.content.decode()
    cast.student.first_name = "a\x00b"
    with pytest.raises(ValidationError, match="NUL"):
        row_validate(cast.student)


def test_a_huge_building_of_a_person(cast: Cast) -> None:
    """Said at the field."""
    values = {
        "first_name": "Tam",
        "last_name": "Orrin",
        "username": "orrin",
        "role": "office",
        "buildings": "9" * 25,
    }
    answer = _signed_in(cast.coordinator).post("/people/new/", values)
    assert answer.status_code == 422
    assert "is not a valid value" in answer.content.decode()
    assert not Person.objects.filter(username="orrin").exists()
