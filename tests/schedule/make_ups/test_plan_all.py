"""Planning all make-ups: the most minutes, groups as groups, and what is proved of it said."""

import pytest

from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine, StudentHold
from caseload.plans.naming import unmarked
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.models import PlannedSession, PlanRun
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import date, make_entry, make_ground, make_line, make_week
from tests.schedule.log_builders import log_session, publish_session
from tests.schedule.runs import worked

SUNDAY = date(6)
WEDNESDAY = date(9)
CLOCKS = ("8:30", "9:20", "10:10", "11:35", "12:25")


def missed(cast: Cast, *codes: str) -> list[ServiceLine]:
    """Lines of 1 x 30 at North. Each missed a session; in the next week only Wednesday is free for more."""
    make_ground(cast)
    cast.line.delete()
    lines = [make_line(cast, code) for code in codes]
    for number, line in enumerate(lines):
        session = publish_session(date(0), [line], f"{9 + number}:00", f"{9 + number}:30")
        log_session(cast.teacher, session, {line.pk: Outcome(reason="assembly")})
    held = [(f"line-{line.pk}", date(7), clock) for line, clock in zip(lines, CLOCKS, strict=False)]
    week = make_week(cast, held, monday=date(7))
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    for offset in (8, 10, 11):
        make_entry(cast, date(offset), "closed")
    return lines


def only_in(line: ServiceLine, *periods: str) -> None:
    """Holds in every other period, on Wednesdays."""
    for period in {"1", "2", "3", "4", "5", "6"} - set(periods):
        StudentHold.objects.create(student=line.plan.student, days="Wed", period=period, reason="core")


def planned(cast: Cast) -> PlanRun:
    """The run over one week, worked."""
    return worked(make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=1))


def test_a_chain_in_which_one_after_the_other_gets_three_gets_all_four(cast: Cast) -> None:
    """A1 could take the only period of A4; taking each its own best place left A4 without one."""
    lines = missed(cast, "A1", "A2", "A3", "A4")
    for line, periods in zip(lines, (("1", "2"), ("2", "3"), ("3", "4"), ("1",)), strict=True):
        only_in(line, *periods)
    run = planned(cast)
    made = PlannedSession.objects.filter(week__plan_run=run, makes_up=True).order_by("start")
    assert [(one.date, one.period) for one in made] == [(WEDNESDAY, period) for period in "1234"]
    assert {one.makes_up_for for one in made} == {date(0)}
    assert run.weeks.get().figures["broken"] == []
    assert (run.summary["make_ups"], run.summary["minutes"], run.summary["is_proved"]) == (4, 120, True)
    assert run.summary["notes"][0] == "All 120 minutes have a place."
    assert "no plan that places as much in time adds less" in run.summary["notes"][1]


def test_what_cannot_be_is_said_with_its_proof(cast: Cast) -> None:
    """Two students who both have only the first period of the one free day: no plan places both."""
    for line in missed(cast, "A1", "A2"):
        only_in(line, "1")
    run = planned(cast)
    assert (run.summary["make_ups"], run.summary["most_minutes"], run.summary["is_proved"]) == (1, 30, True)
    notes = [unmarked(note) for note in run.summary["notes"]]
    assert notes[0] == "30 of 60 minutes have a place; it is proved that no plan places more."
    assert sum("30 minutes due by" in note for note in notes) == 1


@pytest.mark.parametrize("size", [2, 3])
def test_a_missed_group_is_placed_as_a_group(cast: Cast, size: int) -> None:
    """One free period for all of them: apart only one would have it, together each has."""
    make_ground(cast)
    cast.line.delete()
    lines = [make_line(cast, f"A{number}") for number in range(size)]
    session = publish_session(date(0), lines)
    log_session(cast.teacher, session, {line.pk: Outcome(reason="assembly") for line in lines})
    held = [(f"line-{line.pk}", date(7), clock) for line, clock in zip(lines, CLOCKS, strict=False)]
    week = make_week(cast, held, monday=date(7))
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    for offset in (8, 10, 11):
        make_entry(cast, date(offset), "closed")
    for line in lines:
        only_in(line, "4")
    made = PlannedSession.objects.get(week__plan_run=planned(cast), makes_up=True)
    assert (made.attendees.count(), made.period, made.makes_up_for) == (size, "4", date(0))
