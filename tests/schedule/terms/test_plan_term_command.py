"""``manage.py plan_term``: the coming weeks as one timetable, left as drafts, once."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from caseload.plans.models import ServiceLine
from schedule.terms.models import TermPlan
from schedule.weeks.models import WeekPlan
from schedule.weeks.services.weeks import week_discard
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line


def said(**options: object) -> str:
    """What the command prints."""
    printed = StringIO()
    call_command(
        "plan_term", teacher="teacher", monday=MONDAY, time_limit=2, stdout=printed, stderr=StringIO(), **options
    )
    return printed.getvalue()


def test_the_weeks_are_left_as_drafts_and_each_is_said(cast: Cast) -> None:
    make_ground(cast)
    make_line(cast, "G1")
    heading, *lines = said(weeks=2).splitlines()
    assert heading == "One timetable for the weeks from 2026-09-14 to 2026-09-27:"
    assert [line.split(":")[0].strip() for line in lines] == [MONDAY.isoformat(), "2026-09-21"]
    assert all("3 of 3 sessions at their standing time" in line for line in lines)
    assert set(WeekPlan.objects.values_list("status", flat=True)) == {WeekPlan.Status.DRAFT}


def test_what_was_planned_once_is_not_planned_again_unasked(cast: Cast) -> None:
    make_ground(cast)
    first = said(weeks=1)
    assert said(weeks=1, if_none=True) == first
    assert TermPlan.objects.count() == 1
    assert said(weeks=1)
    assert TermPlan.objects.count() == 2


def test_weeks_that_were_set_aside_are_planned_again(cast: Cast) -> None:
    """As after a search that left out what could have a place: its drafts are discarded, and the next searches."""
    make_ground(cast)
    make_line(cast, "G1")
    said(weeks=1, until_placed=True)
    for week in WeekPlan.objects.all():
        week_discard(actor=cast.teacher, week=week)
    said(weeks=1, until_placed=True, if_none=True)
    assert TermPlan.objects.count() == 2
    assert WeekPlan.objects.filter(status=WeekPlan.Status.DRAFT).count() == 1


def test_what_is_proved_to_have_no_place_is_no_reason_to_search_on(cast: Cast) -> None:
    """Four hours a day of each of two students at once: no day holds both, alone or in a group."""
    make_ground(cast)
    for code in ("G1", "G2"):
        make_line(cast, code, minutes=240, times=5)
    printed = said(weeks=1, until_placed=True)
    term = TermPlan.objects.get()
    [week] = term.summary["weeks"]
    assert week["minutes_placed"] < week["minutes_owed"]
    assert term.summary["could_be_placed"] == 0
    assert f"{week['minutes_placed']} of {week['minutes_owed']} minutes placed" in printed
    assert set(WeekPlan.objects.values_list("status", flat=True)) == {WeekPlan.Status.DRAFT}


def test_what_keeps_a_term_from_being_planned_is_said(cast: Cast) -> None:
    make_ground(cast)
    ServiceLine.objects.all().delete()
    with pytest.raises(CommandError, match="Add services, or choose other dates"):
        said(weeks=1)
