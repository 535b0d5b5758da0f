"""Favors come true: granted by hand and solved again, each gives exactly what was said."""

import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.asking.favor_kinds import Favor, MovableClass, MovableMeeting, Movables, favors_of
from schedule.planner.asking.favor_search import JudgedWeek
from schedule.planner.asking.favors import Favors, find_favors, price
from schedule.planner.asking.replan import is_near
from schedule.planner.problem import Barred, Block, Day, Goal, Group, Lunch, Pin, Place, Problem, Service
from schedule.planner.result import GoalFigures, Itinerary
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import at, random_tiny_week, service, tiny

OFFICE = "the office of South"
DRIVES = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)


def figures(problem: Problem) -> GoalFigures:
    """The best there is, by the planner."""
    result = solve(problem, workers=1)
    assert result.figures is not None
    return result.figures


def gym() -> Problem:
    """Two classes at South could use the gym at 11:00 on Monday, if it were free; one of them has no other time."""
    y = Barred("mon", 660, "b", "space_in_use", "the gym is in use by grade 3", OFFICE, "the gym", 30)
    held = Barred("mon", 600, "b", "student_held", "S02 can't be taken 10:00 to 10:40 (reading)", "the teacher")
    return tiny(
        service("x", at(560), label="Class 1"),
        service("y", at(570, "b"), label="Class 2", barred=(y, held)),
        service("z", at(480, "b"), label="Class 3", barred=(y,)),
        pins=(Pin("x", "mon", 560),),
    )


def test_a_favor_that_makes_everything_fit_is_said_so() -> None:
    found = find_favors(gym(), workers=1)
    best = found.priced[0]
    assert best.text.startswith("If the gym at South School were free at 11:00 on Monday: everything fits")
    assert (best.minutes_placed, best.everything_fits, best.proved, best.favor.ask) == (30, True, True, OFFICE)


@pytest.mark.parametrize(
    ("without", "with_it", "said"),
    [
        (True, True, "exactly 10 minutes more of what is owed are placed, with exactly 5 minutes of driving more."),
        (
            True,
            False,
            "at least 10 minutes more of what is owed are placed, with at most 5 minutes of driving more.",
        ),
        (False, False, "perhaps 10 minutes more of what is owed are placed, with 5 minutes of driving more."),
        (False, True, "perhaps 10 minutes more of what is owed are placed, with 5 minutes of driving more."),
    ],
)
def test_a_favor_claims_no_more_than_is_proved(without: bool, with_it: bool, said: str) -> None:
    favor, nothing = favors_of(gym())[0], Itinerary(())
    base = JudgedWeek(nothing, GoalFigures(30, 0, 20, 0, 0), without)
    one = price(favor, base, JudgedWeek(nothing, GoalFigures(20, 0, 25, 0, 0), with_it))
    assert one.text == f"{favor.what}: {said.format(more='more of what is owed')}"


def test_one_moment_of_a_space_is_one_favor_for_every_service() -> None:
    favors = favors_of(gym())
    assert [(one.code, len(one.opened)) for one in favors] == [("space_in_use", 2), ("student_held", 1)]


def test_a_day_of_another_class_saves_driving() -> None:
    """Two schools, a class in each; if room 4 met on Monday, Tuesday's way to South, 10 minutes, were saved."""
    days = (Day("mon", 480, 720, "Monday", "a", "b"), Day("tue", 480, 720, "Tuesday", "a", "a"))
    problem = tiny(service("p", at(600, "b"), label="S01"), service("q", at(540, "b", "tue")), days=days)
    room4 = MovableClass("the class of room 4", ("q",), ("mon", "tue"), "the teacher of room 4")
    best = find_favors(problem, movables=Movables((room4,)), workers=1).priced[0]
    asked = "If the class of room 4 met on Monday instead of Tuesday"
    assert best.text == f"{asked}: exactly 20 minutes of driving less a week."
    assert (best.favor.ask, best.drive_saved, best.minutes_placed) == ("the teacher of room 4", 20, 0)


def test_the_moment_is_named_as_the_school_names_it() -> None:
    found = favors_of(gym(), None, lambda day, place, minute: f"in period {minute // 60 - 7}")
    assert found[0].what == "If the gym at South School were free in period 4 on Monday"


def test_each_place_has_its_best_favor() -> None:
    found = find_favors(gym(), workers=1)
    assert [one.favor.place for one in found.best_of_places()] == ["b"]


@pytest.mark.parametrize(
    ("figures", "near"),
    [
        (((Goal.UNPLACED, 0, 0), (Goal.DRIVING, 102, 100)), True),
        (((Goal.UNPLACED, 0, 0), (Goal.DRIVING, 103, 100)), False),
        (((Goal.UNPLACED, 30, 25), (Goal.DRIVING, 100, 100)), False),
        (((Goal.UNPLACED, 30, 30), (Goal.WISHES, 50, 49), (Goal.DRIVING, 100, 100)), False),
    ],
)
def test_a_week_is_near_where_all_before_driving_is_proved(
    figures: tuple[tuple[Goal, int, int], ...], near: bool
) -> None:
    assert is_near(figures) == near


def test_nothing_is_priced_against_a_week_of_which_little_is_known() -> None:
    """Cut so short that the week without favors isn't known to within 2 %, no favor is said to give anything."""
    problem = generate_week(WeekShape(12, 4, 4, 5), 1)
    found = find_favors(problem, workers=1, time_limit=60, monotonic=hurried())
    assert found.base is not None
    assert (found.base_near, found.base_proved) == (False, False)
    assert (found.priced, found.tried, found.stopped) == ((), 0, True)
    assert find_favors(problem, workers=1, most_solved=0).base_near


def test_limits_are_said() -> None:
    found = find_favors(gym(), workers=1, most_solved=1)
    assert (found.possible, found.stopped) == (2, True)
    assert found.tried + found.dismissed < 2
    assert find_favors(gym(), workers=1, stop=lambda: True) == Favors(None, (), 2, 0, True)


def barred_week(seed: int) -> Problem:
    """A tiny week in which one rule bars the later starts of each service."""
    problem = random_tiny_week(seed)

    def barred(one: Service) -> Service:
        kept, gone = one.starts[:1], one.starts[1:]
        bars = tuple(
            Barred(s.day, s.at, s.place, "space_in_use", "in use", s.place, f"gym {s.place}", s.minutes)
            for s in gone
        )
        return replace(one, starts=kept, barred=bars)

    services = tuple(barred(one) for one in problem.services)
    return replace(problem, services=services, groups=(), pins=(), current=None, goals=DRIVES)


def exact_gain(problem: Problem, favor: Favor) -> tuple[int, ...]:
    """What a favor gives, by trying every plan with and without it."""
    before, after = best_figures(problem), best_figures(granted_by_hand(problem, favor))
    assert before is not None
    if after is None:  # A meeting moved to where it leaves no week at all.
        return (-1, 0, 0)
    return tuple(a - b for a, b in zip(before, after, strict=True))


def granted_by_hand(problem: Problem, favor: Favor) -> Problem:
    """The starts and days that a favor changes, put in apart from the planner's own way."""
    services, groups = list(problem.services), list(problem.groups)
    for unit, start in favor.opened:
        services = [replace(one, starts=(*one.starts, start)) if one.id == unit else one for one in services]
        groups = [replace(one, starts=(*one.starts, start)) if one.id == unit else one for one in groups]
    days = [next((day for day in favor.days if day.id == one.id), one) for one in problem.days]
    return replace(problem, services=tuple(services), groups=tuple(groups), days=tuple(days))


@pytest.mark.long
def test_favors_are_true_by_brute_force() -> None:
    judged = 0
    for seed in range(60):
        problem = barred_week(seed)
        if solve(problem, workers=1).plan is None:
            continue
        for one in find_favors(problem, workers=1).priced:
            assert one.proved
            assert one.worth == exact_gain(problem, one.favor), (seed, one.text)
            judged += 1
    assert judged > 20


@pytest.mark.long
def test_every_favor_that_helps_is_found_by_brute_force() -> None:
    """Favors that were dismissed together give nothing one by one either; all others are priced."""
    dismissed = 0
    for seed in range(40):
        problem = barred_week(seed)
        if solve(problem, workers=1).plan is None:
            continue
        found = find_favors(problem, workers=1)
        priced = {one.favor for one in found.priced}
        assert not found.stopped
        for favor in favors_of(problem):
            assert (exact_gain(problem, favor) > (0, 0, 0)) == (favor in priced), (seed, favor.what)
        dismissed += found.dismissed
    assert dismissed > 20


def hurried() -> Callable[[], float]:
    """A clock on which every look takes a second."""
    ticks = iter(range(10**6))
    return lambda: float(next(ticks))


@pytest.mark.long
def test_a_search_cut_short_claims_no_more_than_is_true_by_brute_force() -> None:
    """Every gain that is said is there, and where the week without it is the best there is, it is no less."""
    judged = 0
    for seed in range(40):
        problem = barred_week(seed)
        if solve(problem, workers=1).plan is None:
            continue
        for limit in (100, 400, 1600):
            found = find_favors(problem, workers=1, time_limit=limit, monotonic=hurried())
            assert found.base_near or not found.priced
            for one in found.priced if found.base_proved else ():
                assert one.worth <= exact_gain(problem, one.favor), (seed, one.text)
                judged += 1
    assert judged > 20


# ---- groups, contract days, meetings ---------------------------------------------------------------------


def grouped(seed: int) -> Problem:
    """Two services of one school that could be taken together, were it not for bars: of one of them, or of both."""
    rng = random.Random(seed)  # noqa: S311 -- test data, no secret
    moments = rng.sample(range(480, 660, 15), 4)
    gym = "the gym"

    def bars(kept: list[int]) -> tuple[Barred, ...]:
        return tuple(
            Barred("mon", m, "b", "space_in_use", "in use", OFFICE, gym, 30) for m in moments if m not in kept
        )

    def one(name: str) -> Service:
        kept = rng.sample(moments, rng.randint(1, 2))
        starts = tuple(at(m, "b", space=gym) for m in sorted(kept))
        return service(name, *starts, barred=bars(kept))

    first, second = one("p"), one("q")
    shared = [start for start in first.starts if start in second.starts]
    group = Group("g", ("p", "q"), 30, tuple(shared))
    other = service("r", at(480, "a"), at(600, "a"))
    days = (Day("mon", 480, rng.choice((570, 600, 690)), "Monday", "a", None),)
    return tiny(first, second, other, groups=(group,), days=days, goals=DRIVES)


@pytest.mark.long
def test_a_freed_space_serves_groups_too_by_brute_force() -> None:
    """A group may be held at a freed moment if each of its members may; nothing else is gained."""
    opened = 0
    for seed in range(60):
        problem = grouped(seed)
        free = {one.id: {s.at for s in one.starts} for one in problem.services}
        for favor in favors_of(problem):
            moment = favor.at
            both = all(
                moment in free[name] or (name, moment) in {(u, s.at) for u, s in favor.opened} for name in "pq"
            )
            gained = [start.at for unit, start in favor.opened if unit == "g"]
            assert gained == ([moment] if both else []), seed
            opened += both
        for one in find_favors(problem, workers=1).priced:
            assert one.worth == exact_gain(problem, one.favor), (seed, one.text)
    assert opened > 20


def test_a_group_is_what_makes_everything_fit() -> None:
    """Half an hour at South School: both students fit only together, and only if the gym is free then."""
    bar = Barred("mon", 500, "b", "space_in_use", "in use", OFFICE, "the gym", 30)
    pair = (service("p", barred=(bar,)), service("q", barred=(bar,)))
    day = (Day("mon", 480, 540, "Monday", "a", None),)
    found = find_favors(tiny(*pair, groups=(Group("g", ("p", "q"), 30),), days=day, goals=DRIVES), workers=1)
    assert [(one.minutes_placed, one.everything_fits) for one in found.priced] == [(60, True)]


def stretched(seed: int) -> Problem:
    """A tiny week whose starts reach a quarter of an hour beyond its short days."""
    problem = random_tiny_week(seed)

    def shorter(day: Day) -> Day:
        end = max(day.end - 60, 600)
        lunch = Lunch(day.lunch.minutes, 540, 600) if day.lunch else None
        blocks = tuple(block for block in day.blocks if block.start >= 495 and block.end <= end)
        return replace(day, start=495, end=end, lunch=lunch, blocks=blocks)

    days = tuple(shorter(day) for day in problem.days)
    return replace(problem, days=days, pins=(), current=None, goals=DRIVES)


@pytest.mark.long
def test_longer_days_and_other_meetings_are_true_by_brute_force() -> None:
    judged: dict[str, int] = {}
    for seed in range(30):
        problem = stretched(seed)
        if solve(problem, workers=1).plan is None:
            continue
        ids = tuple(day.id for day in problem.days)
        meetings = tuple(
            MovableMeeting(day.id, block, ids, "the principal") for day in problem.days for block in day.blocks
        )
        movables = Movables((), meetings, "the supervisor")
        found = find_favors(problem, movables=movables, workers=1)
        priced = {one.favor: one for one in found.priced}
        for favor in favors_of(problem, movables):
            gain = exact_gain(problem, favor)
            assert (gain > (0, 0, 0)) == (favor in priced), (seed, favor.what)
            if favor in priced:
                assert priced[favor].worth == gain, (seed, favor.what)
                judged[favor.code] = judged.get(favor.code, 0) + 1
    assert {"day_begins", "day_ends", "lunch_time", "meeting_excused", "meeting_moved"} <= set(judged), judged


def test_a_longer_day_names_the_day_and_whom_to_ask() -> None:
    days = (Day("tue", 480, 565, "Tuesday", "a", "a"),)
    problem = tiny(service("p", at(530, "b", "tue")), days=days, goals=DRIVES)
    [best] = find_favors(problem, movables=Movables(who_sets_days="the supervisor"), workers=1).priced
    asked = "If your day could end 15 minutes later on Tuesday"
    assert best.text == f"{asked}: everything fits, with exactly 20 minutes of driving more."
    assert best.favor.ask == "the supervisor"


def test_a_meeting_on_another_day_saves_the_way_to_it() -> None:
    """Wednesday's meeting is at South, where nothing else is that day; on Thursday the teacher is there anyway."""
    meeting = Block(600, 630, "b", "Team meeting")
    days = (
        Day("wed", 480, 720, "Wednesday", "a", "a", blocks=(meeting,)),
        Day("thu", 480, 720, "Thursday", "a", "a"),
    )
    problem = tiny(service("p", at(500, "b", "thu")), days=days, goals=DRIVES)
    movable = MovableMeeting("wed", meeting, ("wed", "thu"), "the principal")
    found = find_favors(problem, movables=Movables((), (movable,)), workers=1)
    assert [(one.favor.what, one.drive_saved, one.favor.ask) for one in found.priced] == [
        ("If Team meeting were on Thursday instead of Wednesday", 20, "the principal"),
        ("If you were excused from Team meeting on Wednesday at 10:00", 20, "the principal"),
    ]


# ---- the week without ------------------------------------------------------------------------------------


def test_a_favor_names_places_by_name() -> None:
    problem = replace(gym(), places=(Place("a", "North School"), Place("b", "East School")))
    assert "East School" in favors_of(problem)[0].what


def test_what_planning_again_gives_is_no_favors() -> None:
    """A week that drives to and fro is bettered by planning alone: that is said apart, and no favor gets it."""
    bar = Barred("mon", 690, "b", "space_in_use", "in use", OFFICE, "the gym", 30)
    problem = tiny(
        service("p", at(480), at(640)),
        service("q", at(560, "b"), barred=(bar,)),
        service("r", at(610), at(510)),
        days=(Day("mon", 480, 720, "Monday", "a", None),),
        goals=DRIVES,
    )
    pins = (Pin("p", "mon", 480), Pin("q", "mon", 560), Pin("r", "mon", 610))
    clumsy = solve(replace(problem, pins=pins), workers=1).plan
    found = find_favors(problem, known=clumsy, workers=1)
    assert (found.at_hand and found.at_hand.driving, found.base and found.base.driving) == (20, 10)
    assert found.replanning == (0, 0, 10)
    assert (found.base_proved, found.priced) == (True, ())


@pytest.mark.parametrize("limit", [0.001, 60.0])
def test_the_week_at_hand_is_never_worse_than_what_favors_are_held_against(limit: float) -> None:
    problem = barred_week(3)
    known = solve(problem, workers=1)
    assert known.figures is not None
    found = find_favors(problem, known=known.plan, workers=1, time_limit=limit)
    assert found.base is not None
    assert found.base.in_order(DRIVES) <= known.figures.in_order(DRIVES)
