"""What usual times are worth where a teacher said nothing: the district's rules of the term's first day."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.delivery.services.rules import ledger_settings_save
from caseload.plans.models import ServiceLine
from schedule.terms.models import TermPlan
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

LATER = MONDAY + 2 * WEEK
DISTRICTS, DISTRICTS_LATER, OWN = 25, 90, 40


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01 twice a week; the district's number, and another one from the third week on."""
    make_ground(cast)
    ledger_settings_save(
        actor=cast.coordinator, values={"usual_times_worth": DISTRICTS, "first_day": dt.date(2026, 8, 1)}
    )
    ledger_settings_save(actor=cast.coordinator, values={"usual_times_worth": DISTRICTS_LATER, "first_day": LATER})
    return [make_line(cast, "G1")]


def offered(cast: Cast, monday: dt.date) -> object:
    """The number that stands in the form for a term from a week on."""
    client = Client()
    client.force_login(cast.teacher)
    return client.get(reverse("term_plan"), {"week": monday.isoformat()}).context["form"]["worth"].value()


@pytest.mark.parametrize(("first", "worth"), [(MONDAY, DISTRICTS), (LATER, DISTRICTS_LATER)])
def test_the_form_offers_the_districts_number_of_the_first_day(
    cast: Cast, caseload: list[ServiceLine], first: dt.date, worth: int
) -> None:
    assert offered(cast, first) == worth


@pytest.mark.parametrize("said", [{}, {"worth": None}])
def test_the_api_takes_the_districts_number_where_none_is_given(
    cast: Cast, caseload: list[ServiceLine], said: dict[str, Any]
) -> None:
    last = LATER + dt.timedelta(days=4)
    made = Api(cast.teacher).post("terms/", first_date=LATER, last_date=last, **said)
    assert made["worth"] == DISTRICTS_LATER


def test_an_empty_field_is_the_districts_number(cast: Cast, caseload: list[ServiceLine]) -> None:
    client = Client()
    client.force_login(cast.teacher)
    asked = {"first_date": MONDAY, "last_date": MONDAY + dt.timedelta(days=4), "worth": "", "time_limit": 30}
    assert client.post(reverse("term_plan"), asked).status_code == 302
    assert TermPlan.objects.get().worth == DISTRICTS


def test_nothing_is_a_number_too(cast: Cast, caseload: list[ServiceLine]) -> None:
    """0 is what the teacher said, not nothing said."""
    assert planned(cast, weeks=1, worth=0).worth == 0


def test_only_a_number_of_the_teachers_own_is_offered_again(cast: Cast, caseload: list[ServiceLine]) -> None:
    """A term with the district's number leaves the next one to the district; one with another is remembered."""
    planned(cast, weeks=1, worth=DISTRICTS)
    assert offered(cast, LATER) == DISTRICTS_LATER
    planned(cast, weeks=1, worth=OWN)
    assert offered(cast, LATER) == OWN


def test_the_districts_number_is_the_coordinators_and_has_bounds(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Through the API by date; more than four hours a week is refused by the field's name."""
    rules: dict[str, Any] = {"first_day": "2027-01-04", "usual_times_worth": 30}
    Api(cast.teacher).post("ledger-rules/", expect=403, **rules)
    assert Api(cast.coordinator).post("ledger-rules/", **rules)["usual_times_worth"] == 30
    refused: dict[str, Any] = {"first_day": "2027-02-01", "usual_times_worth": 241}
    assert "usual_times_worth" in str(Api(cast.coordinator).post("ledger-rules/", expect=400, **refused))
