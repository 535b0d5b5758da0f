"""The first hour: what is there, what is missing and what is next, from an empty district to a published week."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import District, Person
from accounts.services import district_of
from schedule.beginning.selectors import set_up
from schedule.beginning.steps import StepState, named, state_of
from schedule.calendar.models import SchoolYear
from tests.api import Api
from tests.conftest import Cast, date_there, make_person
from tests.schedule.builders import make_bells
from travel.places.models import Building

TODAY = dt.date(2026, 9, 14)


@pytest.fixture
def bare(db: None) -> Person:
    """The coordinator of a district with nothing in it."""
    district = District.objects.create(name="Fallow County", time_zone="America/New_York", state="NY")
    return make_person(district, "first_coordinator", Person.Role.COORDINATOR)


def states(viewer: Person) -> dict[str, StepState]:
    return {one.key: one.state for one in set_up(viewer, TODAY).steps}


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ([], ""),
        (["A"], "A"),
        (["A", "B"], "A and B"),
        (list("ABCDE"), "A, B, C, D and E"),
        (list("ABCDEFG"), "A, B, C, D, E and 2 more"),
    ],
)
def test_some_are_named_and_the_others_counted(names: list[str], said: str) -> None:
    assert named(names) == said


def test_how_far_a_step_is() -> None:
    assert state_of(0, 3) is StepState.OPEN
    assert state_of(2, 1) is StepState.PARTLY
    assert state_of(2, 0) is StepState.DONE
    assert state_of(0, 0, ready=False) is StepState.LATER


def test_nothing_is_done_and_what_needs_a_school_waits_for_one(bare: Person) -> None:
    found = set_up(bare, TODAY)
    assert found.done == 0
    assert found.next is not None
    assert found.next.key == "people"
    later = {key for key, state in states(bare).items() if state is StepState.LATER}
    assert later == {"bells", "spaces", "classes", "students", "plans", "hours", "week"}


def test_steps_are_done_as_rows_come(bare: Person) -> None:
    district = bare.district
    assert district is not None
    make_person(district, "first_teacher", Person.Role.TEACHER)
    school = Building.objects.create(district=district, code="A", name="Alder School")
    at_school = {one.key: one for one in set_up(bare, TODAY).steps}
    assert at_school["schools"].state is StepState.PARTLY
    assert "Alder School" in at_school["schools"].missing
    assert at_school["bells"].ways[1].address == reverse("building_detail", args=[school.pk])
    school.latitude, school.longitude = Decimal("43.10"), Decimal("-75.20")
    school.save()
    make_bells(school)
    SchoolYear.objects.create(
        district=district, name="2026-27", first_day=TODAY, last_day=TODAY + dt.timedelta(days=280)
    )
    now = states(bare)
    done = {key for key, state in now.items() if state is StepState.DONE}
    assert done == {"people", "schools", "bells", "year"}
    assert now["students"] is StepState.OPEN
    Building.objects.create(district=district, code="B", name="Birch School", latitude="43.1", longitude="-75.1")
    assert states(bare)["bells"] is StepState.PARTLY, "one school has bells, the other doesn't"


def test_a_year_that_is_over_is_none(bare: Person) -> None:
    over = TODAY - dt.timedelta(days=1)
    SchoolYear.objects.create(
        district=district_of(bare), name="Before", first_day=TODAY - dt.timedelta(days=300), last_day=over
    )
    assert states(bare)["year"] is StepState.OPEN


def test_whoever_signs_in_to_an_empty_district_comes_here(bare: Person) -> None:
    client = Client()
    client.force_login(bare)
    answer = client.get(reverse("home"), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("beginning")
    page = answer.content.decode()
    assert "First steps" in page
    assert reverse("person_new") in page
    Building.objects.create(district=district_of(bare), code="A", name="Alder School")
    assert client.get(reverse("home"), follow=True).redirect_chain[-1][0] != reverse("beginning")


def test_each_way_leads_to_a_page_that_is_there(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.coordinator)
    for step in set_up(cast.coordinator, date_there()).steps:
        for way in step.ways:
            assert client.get(way.address).status_code == 200, way


def test_a_teacher_sees_the_steps_but_not_who_signs_in(cast: Cast) -> None:
    keys = [one.key for one in set_up(cast.teacher, TODAY).steps]
    assert keys[0] == "schools"
    found = Api(cast.teacher).get("beginning/")
    assert [one["key"] for one in found["steps"]] == keys
    Api(cast.office).get("beginning/", 403)


def test_the_number_of_queries_does_not_grow_with_schools(cast: Cast) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            set_up(cast.coordinator, TODAY)
        return len(seen)

    few = queries()
    for number in range(5):
        make_bells(Building.objects.create(district=cast.district, code=f"Q{number}", name=f"Quarry {number}"))
    assert queries() == few
