"""A student who came after the week was published isn't left out without a word."""

import pytest

from caseload.plans.services import service_change
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.gaps import UnplannedService, week_gaps
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line, make_week


@pytest.fixture
def week(cast: Cast) -> WeekPlan:
    """S01's two sessions, in force."""
    make_ground(cast)
    own = f"line-{cast.line.pk}"
    draft = make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20")])
    return week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)


def test_a_week_that_holds_everything_has_no_gap(cast: Cast, week: WeekPlan) -> None:
    assert week_gaps(cast.teacher, week, MONDAY) == ()


def test_a_service_that_came_later_is_named(cast: Cast, week: WeekPlan) -> None:
    """To the teacher and the coordinator, as long as the week isn't over; not to an office."""
    make_line(cast, "N1", building=cast.south)
    gap = UnplannedService("Ilsabet Quernmore-N1", "1 x 30 min/week", 1)
    assert week_gaps(cast.teacher, week, MONDAY) == (gap,)
    assert week_gaps(cast.coordinator, week, date(6)) == (gap,)
    assert week_gaps(cast.teacher, week, date(7)) == ()
    assert week_gaps(cast.office, week, MONDAY) == ()


def test_a_service_that_owes_nothing_in_this_week_is_no_gap(cast: Cast, week: WeekPlan) -> None:
    """It begins the Monday after."""
    make_line(cast, "N1", start=date(7))
    assert week_gaps(cast.teacher, week, MONDAY) == ()


def test_lessons_that_a_change_added_are_named(cast: Cast, week: WeekPlan) -> None:
    """The week holds the two of before, which count for the four from its Monday on: two are missing."""
    values = {"statement": "4 x 30 min/week"}
    service_change(actor=cast.teacher, row=cast.line, from_day=MONDAY, values=values, seen=None)
    gap = UnplannedService("Ola Tarn S01", "4 x 30 min/week", 2)
    assert week_gaps(cast.teacher, week, MONDAY) == (gap,)


def test_another_teacher_from_next_week_leaves_no_gap(cast: Cast, week: WeekPlan) -> None:
    """The week is as it was planned."""
    service_change(actor=cast.teacher, row=cast.line, from_day=date(7), values={"provider": cast.mate}, seen=None)
    assert week_gaps(cast.teacher, week, MONDAY) == ()
