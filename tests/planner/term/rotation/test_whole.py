"""Timetables with rotating days weighed by whole weeks: made one after the other, bettered, searched on."""

from dataclasses import replace

from benchmarks.terms import TermShape, generate_term
from schedule.planner.problem import Group, Pin
from schedule.planner.term.budget import Budget
from schedule.planner.term.judge import check_term
from schedule.planner.term.kinds import Weeks
from schedule.planner.term.plan import plan_term
from schedule.planner.term.rotation.whole import WholeWeeks, with_rest
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession, StandingTimetable, Term, TermWeek
from tests.planner.term.builders import ann, at, week

SMALL = TermShape(sessions=8, buildings=4, weeks=4, closed_days=1, closings=1, shortened=0, beginning=0, ending=0)
MIDNIGHT = 0.0


def whole_weeks(weeks: tuple[TermWeek, ...]) -> WholeWeeks:
    """Each week a kind of its own, as much time as it takes."""
    budget = Budget(600.0, lambda: MIDNIGHT, effort=60.0)
    return WholeWeeks([AlikeWeeks.of(one, 1) for one in weeks], weeks, Weeks(budget, 0, 1), 60)


def lettered(number: int) -> TermWeek:
    """Ann on the Monday of A or B weeks, at another time in each, Ben beside her where she isn't."""
    letter, minute = (("A", 540), ("B", 600))[number % 2]
    return week(number, ann(at(minute, pattern_key=f"{letter} monday")), ann(at(540), at(600), name="ben"))


def test_what_a_week_holds_beside_the_timetable_stands_from_then_on() -> None:
    """Ben can't stand at one time in both: the second week lets him leave, and adds what Ann needs in it."""
    found = whole_weeks((lettered(2), lettered(3))).chained().sessions
    bare = [replace(one, space=None) for one in found]
    assert bare.count(StandingSession("ann", "A monday", 540, "a")) == 1
    assert bare.count(StandingSession("ann", "B monday", 600, "a")) == 1
    assert [one.at for one in bare if one.unit == "ben"] == [600]


def test_a_group_that_a_week_forms_stands_as_a_group() -> None:
    """There is one time for both: what stands is their group, and neither of them alone."""
    one = week(1, ann(at(540)), ann(at(540), name="ben"))
    both = Group("both", ("ann", "ben"), 30, tuple(one.problem.services[0].starts))
    problem = replace(one.problem, groups=(both,))
    (found,) = whole_weeks((TermWeek(one.id, problem),)).chained().sessions
    assert found.unit == "both"


def test_with_rest_adds_nothing_that_stands_already() -> None:
    one = week(1, ann(at(540), at(600)))
    weeks = whole_weeks((one,))
    plan = weeks.weeks.nearest(one, StandingTimetable(), 60).plan
    standing = with_rest(one, StandingTimetable(), plan)
    assert len(standing.sessions) == 1
    assert with_rest(one, standing, plan) == standing


def test_the_weight_counts_what_has_no_place_then_what_is_driven_and_what_is_at_a_new_time() -> None:
    """Ann stands at 9:00 and nothing else: she is kept. Where nobody stands, she is at a time of no timetable."""
    weeks = whole_weeks((week(1, ann(at(540)), ann(at(540), name="ben")),))
    standing = StandingSession("ann", "monday", 540, "a")
    # Half an hour has no place either way; Ben stands nowhere and counts once, and so does Ann without a time.
    assert weeks.planned([standing]).weight == (30, 0, 60)
    assert weeks.planned([]).weight == (30, 0, 120)


def test_of_several_timetables_the_one_is_taken_whose_weeks_are_best() -> None:
    """Ann at 9:00 leaves Ben his only time, at 9:30 she takes it; where time is over, the first one is taken."""
    weeks = whole_weeks((week(1, ann(at(540), at(570)), ann(at(570), name="ben")),))
    bad, good = ((StandingSession("ann", "monday", minute, "a"),) for minute in (570, 540))
    found = weeks.best_of([bad, good], lambda: False)
    assert [one.at for one in found.sessions] == [540]
    assert [one.at for one in weeks.best_of([bad, good], lambda: True).sessions] == [570]


def test_a_search_from_whole_weeks_never_ends_with_a_worse_timetable() -> None:
    """With rotations, from weeks one after the other: all placed, and no dearer than where it began."""
    term = generate_term(replace(SMALL, rotations=True), 2)
    weeks = whole_weeks(term.weeks)
    begun = weeks.chained()
    found = weeks.bettered(begun, seed=0, workers=1, effort=0.5, remaining=lambda: 60.0)
    assert begun.weight[0] == found.weight[0] == 0
    assert found.weight <= begun.weight


def test_a_week_that_has_to_hold_a_session_drives_at_least_what_that_takes() -> None:
    """Ann in "b" and then Ben in "a": ten minutes of road between them, none with Ann in "a" (by hand).

    A week that leaves half an hour open where none needs to be is no measure.
    """
    one = week(1, ann(at(540), at(540, "b")), ann(at(600), name="ben"))
    weeks = whole_weeks((one,)).weeks
    far, near = (Pin("ann", "mon 1", 540, place) for place in ("b", "a"))
    assert [weeks.least_with(one, pins, 0) for pins in ([], [near], [far])] == [0, 0, 10]
    assert weeks.least_with(one, [far], 30) == 0


def test_a_session_pinned_with_its_space_is_held_once() -> None:
    """Ann owes one session and is pinned in the gym: held without a space as well, she would be pinned twice."""
    one = week(1, ann(*(replace(start, space="Gym") for start in (at(540), at(570)))), ann(at(600), name="ben"))
    pinned = replace(one, problem=replace(one.problem, pins=(Pin("ann", "mon 1", 540, "a", "Gym"),)))
    assert whole_weeks((pinned,)).weeks.least_with(pinned, [Pin("ann", "mon 1", 540, "a")], 0) == 0


def test_where_weeks_wish_for_preparation_a_term_with_rotating_days_is_whole() -> None:
    """Columns don't see wishes: it is made of weeks one after the other, and everything owed has a place."""
    weeks = generate_term(replace(SMALL, rotations=True), 2).weeks
    wishing = tuple(
        replace(
            one,
            problem=replace(
                one.problem, days=tuple(replace(day, preparation_minutes=30) for day in one.problem.days)
            ),
        )
        for one in weeks
    )
    term = Term(wishing)
    found = plan_term(term, effort=4.0, time_limit=600.0)
    assert check_term(term, found) == ()
    assert found.unplaced == found.bound_unplaced == 0
