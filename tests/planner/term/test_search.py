"""The search for a timetable: rotations, what begins later, and the same seed twice."""

import itertools
from dataclasses import replace

import pytest

from benchmarks.terms import TermShape, generate_term
from schedule.planner.check import check
from schedule.planner.problem import Pin
from schedule.planner.term.judge import check_term
from schedule.planner.term.plain import one_layout, plain_week
from schedule.planner.term.plan import plan_term
from schedule.planner.term.search import NO_LIMIT, complete
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.template.chains import find_template
from schedule.planner.term.term import StandingSession, Term, TermWeek
from schedule.planner.week.routes import plan_of
from tests.planner.term.builders import ann, at, week

SMALL = TermShape(sessions=8, buildings=4, weeks=7, closed_days=1, closings=1, shortened=1, beginning=1, ending=0)


def with_key(key: str, minute: int, number: int) -> TermWeek:
    """A week whose Monday is of that kind for Ann and nothing else happens."""
    return week(number, ann(at(minute, pattern_key=key)))


def test_letters_are_no_one_layout() -> None:
    """A Monday of A weeks and one of B weeks take turns."""
    plain = [week(number, ann(at(540), at(540, day="tue"))) for number in (1, 2)]
    assert one_layout(plain)
    assert not one_layout([with_key("A monday", 540, 1), with_key("B monday", 540, 2)])


def test_the_plain_week_holds_every_service_and_no_closing() -> None:
    """Ann's Monday is closed in the second week, Cal begins in the third; the plain week knows both."""
    weeks = [
        week(1, ann(at(540), at(600, day="tue"))),
        week(2, ann(at(600, day="tue"))),
        week(3, ann(at(540), at(600, day="tue")), ann(at(630), name="cal")),
    ]
    problem = plain_week(weeks).problem
    assert [one.id for one in problem.services] == ["ann", "cal"]
    assert [(start.at, start.pattern_key) for start in problem.services[0].starts] == [
        (540, "monday"),
        (600, "tuesday"),
    ]


def test_each_letter_gets_its_own_sessions() -> None:
    """One session a week, in A and B weeks at different times: two stand, and each week expects one."""
    weeks = [with_key("A monday", 540, 1), with_key("B monday", 600, 2)]
    state = TermState([AlikeWeeks.of(one, 1) for one in weeks], 60)
    complete(state)
    assert {(one.pattern_key, one.at) for one in state.sessions} == {("A monday", 540), ("B monday", 600)}


def test_a_session_is_weighed_in_every_week() -> None:
    """At Ben's school Ann costs a way there in the two weeks in which nobody else is at the first school."""
    ben = ann(at(540, "b"), name="ben")
    choice = ann(at(600), at(600, "b"))
    state = TermState([AlikeWeeks.of(week(1, ben, choice), 1), AlikeWeeks.of(week(2, choice), 2)], 60)
    state.put(StandingSession("ben", "monday", 540, "b"))
    assert state.added(StandingSession("ann", "monday", 600, "a")) == 10
    assert state.added(StandingSession("ann", "monday", 600, "b")) == 0


def test_what_a_week_cannot_hold_is_charged_for_each_such_week() -> None:
    """Cal stands when Ann would, in two weeks of three."""
    usual, cal = ann(at(540)), ann(at(540), name="cal")
    state = TermState([AlikeWeeks.of(week(1, usual), 1), AlikeWeeks.of(week(2, usual, cal), 2)], 60)
    state.put(StandingSession("cal", "monday", 540, "a"))
    assert state.added(StandingSession("ann", "monday", 540, "a")) == 2 * 60


@pytest.mark.long
@pytest.mark.parametrize("rotations", [False, True])
def test_the_same_seed_gives_the_same_term(rotations: bool) -> None:
    """And it passes the judge, rotations or not. The time is ample: what is done is counted in work."""
    term = generate_term(replace(SMALL, weeks=8 if rotations else 7, rotations=rotations), 1)
    term = Term(term.weeks[:3])
    one, other = (plan_term(term, seed=3, time_limit=3000.0) for _ in range(2))
    assert check_term(term, one) == ()
    assert one == replace(other, seconds=one.seconds, first_term_seconds=one.first_term_seconds)
    assert not one.stopped


def test_what_is_pinned_in_every_week_stands_and_stays() -> None:
    """The search has no other place for it, and needs none."""
    plain = week(1, ann(at(540), at(600)), ann(at(480), at(660), name="ben"))
    pinned = replace(plain, problem=replace(plain.problem, pins=(Pin("ann", "mon 1", 600, "a"),)))
    found = plan_term(Term((pinned, replace(pinned, id="2026-09-14"))))
    assert StandingSession("ann", "monday", 600, "a") in found.standing.sessions
    assert (found.sessions, found.kept, found.unplaced) == (4, 4, 0)


@pytest.mark.parametrize("rotations", [False, True])
def test_the_search_ends_with_a_cheaper_timetable_whose_weeks_are_true(rotations: bool) -> None:
    """Each kind of week that comes with it drives what its routes, timed again, drive, and all is placed."""
    term = generate_term(replace(SMALL, rotations=rotations), 2)
    kinds = [AlikeWeeks.of(one, 1) for one in term.weeks]
    start = TermState(kinds, 60)
    complete(start)
    found = find_template(kinds, [start], worth=60, seed=0, workers=2, effort=1.0, remaining=lambda: 60.0)
    assert found.complete
    driven = sum(state.figures.driving for state in found.weeks)
    assert driven <= start.cost(NO_LIMIT)
    for kind, state in zip(kinds, found.weeks, strict=True):
        assert check(kind.week.problem, plan_of(state.model, state.routes)).holds
        assert state.figures.unplaced == 0


def test_a_word_from_outside_ends_the_search_with_what_it_has() -> None:
    """The first look at the clock finds no time left."""
    term = generate_term(SMALL, 2)
    kinds = [AlikeWeeks.of(one, 1) for one in term.weeks]
    start = TermState(kinds, 60)
    complete(start)
    left = itertools.chain([1.0], itertools.repeat(0.0))
    found = find_template(kinds, [start], worth=60, seed=0, workers=2, effort=10**6, remaining=lambda: next(left))
    assert not found.complete
    assert len(found.sessions) == len(start.sessions)


def test_what_stands_at_a_taken_time_stays_without_a_place() -> None:
    """Ann and Ben both stand at the one time that each of them has: a week holds one of them, and says so."""
    kinds = [AlikeWeeks.of(week(1, ann(at(540)), ann(at(540), name="ben")), 1)]
    start = TermState(kinds, 60)
    for unit in ("ann", "ben"):
        start.put(StandingSession(unit, "monday", 540, "a"))
    found = find_template(kinds, [start], worth=60, seed=0, workers=1, effort=0.01, remaining=lambda: 60.0)
    (state,) = found.weeks
    assert check(kinds[0].week.problem, plan_of(state.model, state.routes)).holds
    assert state.figures.unplaced == 30
