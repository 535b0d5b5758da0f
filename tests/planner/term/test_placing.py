"""A week of a term is not left with minutes unplaced only because its share of the work was small."""

import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.term.budget import Budget
from schedule.planner.term.kinds import Found, Weeks
from schedule.planner.term.term import StandingTimetable, TermWeek

EFFORT = 6.0


def nearest(week: TermWeek, *, until_placed: bool) -> tuple[Found, float]:
    """A full week, the first of twenty questions; the seconds of work that it took."""
    budget = Budget(600.0, lambda: 0.0, effort=EFFORT)
    weeks = Weeks(budget, 0, 1)
    weeks.expect(20, times=1.0)
    return weeks.nearest(week, StandingTimetable(), 60, until_placed=until_placed), budget.work.seconds


@pytest.mark.long
def test_while_minutes_may_have_a_place_the_search_goes_on() -> None:
    """Four days of a term whose weeks are full: more is placed, and the work stays within so many shares."""
    term = generate_term(TermShape(sessions=40), 1)
    short = next(one for one in term.weeks if len(one.problem.days) == 4)
    (cut, brief), (found, longer) = (nearest(short, until_placed=one) for one in (False, True))
    assert 0 <= found.figures.unplaced < cut.figures.unplaced
    assert brief < longer
    # Those asked after it keep most of the work.
    assert longer < EFFORT / 2


@pytest.mark.long
def test_a_week_that_may_leave_out_what_has_a_place_is_looked_at_again() -> None:
    """By itself, with most of the work: more is placed, and from then on that is the week's answer."""
    term = generate_term(TermShape(sessions=40), 1)
    short = next(one for one in term.weeks if len(one.problem.days) == 4)
    weeks = Weeks(Budget(600.0, lambda: 0.0, effort=EFFORT), 0, 1)
    before = weeks.best(short, share=0.01)
    assert not weeks.places_all(short)
    weeks.expect(1)
    weeks.best_again(short)
    after = weeks.best(short)
    assert before.figures is not None
    assert after.figures is not None
    assert after.figures.unplaced < before.figures.unplaced
