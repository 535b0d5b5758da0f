"""A season outside the school year: its own days, and only services that a plan names for it (34 CFR 300.106)."""

import datetime as dt

import pytest

from caseload.plans.models import ServiceLine
from schedule.calendar.models import SchoolYear
from schedule.log.selectors.ledger import student_ledger
from schedule.weeks.planning.load import lines_of
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import make_ground
from tests.schedule.log_builders import publish_session

JULY = dt.date(2027, 7, 5)
"""A Monday."""


@pytest.fixture
def named(cast: Cast) -> ServiceLine:
    """Four weeks of July, and 2 x 30 that the plan names for them, beside what it owes in the year."""
    make_ground(cast)
    SchoolYear.objects.create(
        district=cast.district, name="Summer 2027", first_day=JULY, last_day=dt.date(2027, 7, 30), extended=True
    )
    cast.plan.end = dt.date(2027, 8, 31)
    cast.plan.save()
    ServiceLine.objects.filter(pk=cast.line.pk).update(end=cast.plan.end)
    publish_session(dt.date(2027, 6, 14), [cast.line])
    return ServiceLine.objects.create(
        plan=cast.plan,
        provider=cast.teacher,
        statement="2 x 30 min/week",
        times=2,
        minutes=30,
        start=dt.date(2027, 6, 1),
        end=cast.plan.end,
        extended_year=True,
    )


def owed(cast: Cast, as_of: dt.date) -> dict[int, int]:
    """Minutes owed to date by the services listed."""
    return {one.line.pk: one.figures.owed for one in student_ledger(cast.teacher, cast.student, as_of).lines}


def test_the_ledger_of_a_season_owes_what_a_plan_names_for_it(cast: Cast, named: ServiceLine) -> None:
    """Two whole weeks of July, 120, and none of the other service; in June the other way round."""
    july, june = owed(cast, dt.date(2027, 7, 18)), owed(cast, dt.date(2027, 6, 18))
    assert (july[named.pk], july.get(cast.line.pk, 0)) == (120, 0)
    assert june == {cast.line.pk: 60}


def test_a_week_of_the_season_is_planned_with_its_services(cast: Cast, named: ServiceLine) -> None:
    """And a week of the school year with the others."""
    assert lines_of(cast.teacher, JULY) == [named]
    assert lines_of(cast.teacher, dt.date(2027, 6, 7)) == [cast.line]


def test_the_api_keeps_both(cast: Cast, named: ServiceLine) -> None:
    """The season among the school years, the mark at the service."""
    api = Api(cast.coordinator)
    assert [one["extended"] for one in api.get("school-years/")["results"]] == [True, False]
    assert api.get(f"service-lines/{named.pk}/")["extended_year"] is True
