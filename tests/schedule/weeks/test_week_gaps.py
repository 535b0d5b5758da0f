"""A student who came after the week was published isn't left out without a word."""

import pytest
from django.urls import reverse

from caseload.plans.models import ServiceLine
from caseload.plans.services import service_change
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.rows import Kind
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.gaps import UnplannedService, week_against_owed
from schedule.weeks.services.weeks import week_publish
from tests.caseload.test_student_pages import signed_in
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
    assert week_against_owed(cast.teacher, week, MONDAY).left_out == ()


def test_a_service_that_came_later_is_named(cast: Cast, week: WeekPlan) -> None:
    """To the teacher and the coordinator, as long as the week isn't over; not to an office."""
    make_line(cast, "N1", building=cast.south)
    gap = UnplannedService("Ilsabet Quernmore-N1", "1 x 30 min/week", 1)
    assert week_against_owed(cast.teacher, week, MONDAY).left_out == (gap,)
    assert week_against_owed(cast.coordinator, week, date(6)).left_out == (gap,)
    assert week_against_owed(cast.teacher, week, date(7)).left_out == ()
    assert week_against_owed(cast.office, week, MONDAY).left_out == ()


def test_a_service_that_owes_nothing_in_this_week_is_no_gap(cast: Cast, week: WeekPlan) -> None:
    """It begins the Monday after."""
    make_line(cast, "N1", start=date(7))
    assert week_against_owed(cast.teacher, week, MONDAY).left_out == ()


def test_lessons_that_a_change_added_are_named(cast: Cast, week: WeekPlan) -> None:
    """The week holds the two of before, which count for the four from its Monday on: two are missing."""
    values = {"statement": "4 x 30 min/week"}
    service_change(actor=cast.teacher, row=cast.line, from_day=MONDAY, values=values, seen=None)
    gap = UnplannedService("Ola Tarn S01", "4 x 30 min/week", 2)
    assert week_against_owed(cast.teacher, week, MONDAY).left_out == (gap,)


def test_another_teacher_from_next_week_leaves_no_gap(cast: Cast, week: WeekPlan) -> None:
    """The week is as it was planned."""
    service_change(actor=cast.teacher, row=cast.line, from_day=date(7), values={"provider": cast.mate}, seen=None)
    assert week_against_owed(cast.teacher, week, MONDAY).left_out == ()


def test_more_sessions_than_are_owed_now_are_said_on_week_and_attention(
    cast: Cast, week: WeekPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two stand in the week and one is owed, by a change from its Monday."""
    monkeypatch.setattr("schedule.weeks.pages.week.district_today", lambda person: MONDAY)
    first, last = week.monday, date(6)
    assert week_against_owed(cast.teacher, week, MONDAY).beyond == ()
    assert attention(cast.teacher, cast.teacher, MONDAY).of(Kind.BEYOND) == ()
    values = {"statement": "1 x 30 min/week"}
    service_change(actor=cast.teacher, row=cast.line, from_day=MONDAY, values=values, seen=None)
    [spare] = week_against_owed(cast.teacher, week, MONDAY).beyond
    assert (spare.planned, spare.owed, spare.line.statement) == (2, 1, "1 x 30 min/week")
    assert week_against_owed(cast.teacher, week, last).beyond == (spare,)
    assert week_against_owed(cast.office, week, MONDAY).beyond == ()
    page = signed_in(cast.teacher).get(reverse("week"), {"week": first.isoformat()}).content.decode()
    assert "2 sessions planned and 1 owed of 1 x 30 min/week" in page
    [row] = attention(cast.teacher, cast.teacher, MONDAY).of(Kind.BEYOND)
    assert (row.line_id, row.minutes) == (spare.line.pk, 30)
    assert "up to 2 are planned and at most 1 owed" in row.words
    assert attention(cast.teacher, cast.teacher, date(7)).of(Kind.BEYOND) == ()


def test_terms_that_were_corrected_count_the_same(cast: Cast, week: WeekPlan) -> None:
    """The line is the one of the planning, and says one session now."""
    ServiceLine.objects.filter(pk=cast.line.pk).update(times=1, statement="1 x 30 min/week")
    [spare] = week_against_owed(cast.teacher, week, MONDAY).beyond
    assert (spare.planned, spare.owed) == (2, 1)
    assert [row.minutes for row in attention(cast.teacher, cast.teacher, MONDAY).of(Kind.BEYOND)] == [30]
