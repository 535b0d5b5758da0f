"""What the judge of terms refuses: one broken answer for each of its rules."""

from dataclasses import replace

import pytest

from schedule.planner.problem import Session
from schedule.planner.term.judge import check_term
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import (
    LaterTimetable,
    StandingSession,
    StandingTimetable,
    Term,
    TermResult,
    UnusualDay,
)
from tests.planner.term.builders import ann, at, week

NO_SCHOOL = UnusualDay("a", "monday", "no school")
TERM = Term(
    (
        week(1, ann(at(540), at(600, day="tue"))),
        week(2, ann(at(600, day="tue")), unusual=(NO_SCHOOL,)),
        week(3, ann(at(540), at(600, day="tue"))),
    )
)
IN_FORCE = replace(TERM, standing=StandingTimetable((StandingSession("ann", "monday", 540, "a"),)))


@pytest.fixture
def answer() -> TermResult:
    """A good one: Ann stands on Mondays and is held on Tuesday when Monday is closed."""
    return plan_term(IN_FORCE)


def rules_broken(term: Term, result: TermResult) -> set[str]:
    """Names of the broken rules."""
    return {one.rule for one in check_term(term, result)}


def changed(answer: TermResult, number: int, **changes: object) -> TermResult:
    """The answer with one week changed."""
    weeks = list(answer.weeks)
    weeks[number] = replace(weeks[number], **changes)  # type: ignore[arg-type]
    return replace(answer, weeks=tuple(weeks))


def test_a_good_answer_breaks_nothing(answer: TermResult) -> None:
    assert check_term(IN_FORCE, answer) == ()


def test_weeks_are_those_asked(answer: TermResult) -> None:
    assert rules_broken(IN_FORCE, replace(answer, weeks=answer.weeks[1:])) == {"weeks"}


def test_each_week_passes_the_judge_of_weeks(answer: TermResult) -> None:
    """The plan of another week, whose days are others."""
    assert "days" in rules_broken(IN_FORCE, changed(answer, 0, itinerary=answer.weeks[2].itinerary))


def test_figures_are_counted_again(answer: TermResult) -> None:
    figures = replace(answer.weeks[0].figures, driving=5)
    assert "figures" in rules_broken(IN_FORCE, changed(answer, 0, figures=figures))


def test_a_made_timetable_holds_only_what_can_be_held(answer: TermResult) -> None:
    """One in force may hold what no longer can be."""
    lost = StandingTimetable((*answer.standing.sessions, StandingSession("ann", "tuesday", 555, "a")))
    broken = check_term(TERM, replace(answer, standing=lost))
    assert "ann stands on tuesday at 555, where no week can hold it." in {one.text for one in broken}


def test_bounds_lie_below(answer: TermResult) -> None:
    assert rules_broken(IN_FORCE, changed(answer, 0, least_driving=1)) == {"term"}
    assert rules_broken(IN_FORCE, replace(answer, bound=1)) == {"term"}


def test_more_kept_than_is_held_is_refused(answer: TermResult) -> None:
    """The closed week says that it keeps Ann."""
    broken = rules_broken(IN_FORCE, changed(answer, 1, kept=1, open=1, departures=()))
    assert "what is held is counted" in broken


def test_sessions_kept_and_departing_add_up(answer: TermResult) -> None:
    assert rules_broken(IN_FORCE, changed(answer, 0, expected=2)) == {"what is held is counted"}


def test_a_session_that_is_held_does_not_depart(answer: TermResult) -> None:
    departure = replace(answer.weeks[1].departures[0], week=answer.weeks[0].id, session=None)
    broken = rules_broken(IN_FORCE, changed(answer, 0, departures=(departure,), kept=0))
    assert broken == {"departures are true"}


def test_where_it_is_held_instead_is_true(answer: TermResult) -> None:
    departure = replace(answer.weeks[1].departures[0], session=Session("ann", "tue 2", 615, "a"))
    assert rules_broken(IN_FORCE, changed(answer, 1, departures=(departure,))) == {"departures are true"}


def test_nothing_departs_unsaid(answer: TermResult) -> None:
    """Nothing is held in the third week, and nothing said."""
    third = answer.weeks[2].itinerary
    emptied = replace(third, days=tuple(replace(day, items=()) for day in third.days))
    figures = replace(answer.weeks[2].figures, unplaced=30)
    broken = rules_broken(
        IN_FORCE, changed(answer, 2, itinerary=emptied, figures=figures, kept=0, expected=0, open=0)
    )
    assert broken == {"nothing departs unsaid"}


def test_what_stands_anew_can_be_held_by_then() -> None:
    """Ann's other time is there in the first two weeks only; a timetable of the third can't put her there."""
    cal = ann(at(660), name="cal")
    early = [week(number, ann(at(540), at(600))) for number in (1, 2)]
    term = Term((*early, *(week(number, ann(at(540)), cal) for number in (3, 4))))
    found = plan_term(term, workers=1)
    later = StandingTimetable((StandingSession("ann", "monday", 600, "a"),))
    broken = check_term(term, replace(found, later=(LaterTimetable("2026-09-21", later),)))
    assert any("from 2026-09-21, where no week can hold it" in one.text for one in broken)


def test_a_bound_of_one_rotation_is_none_of_a_timetable_that_changes(answer: TermResult) -> None:
    later = (LaterTimetable("2026-09-21", StandingTimetable((StandingSession("ann", "monday", 540, "a"),))),)
    found = check_term(IN_FORCE, replace(answer, later=later, bound_with_rotation=0))
    assert any("whose timetable changes" in one.text for one in found)
