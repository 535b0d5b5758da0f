"""The judge on itineraries written by hand: each rule on both sides of its edge, each figure by its definition.

What is expected is worked out from the rules and goals of docs/planner.md; no planner takes part.
"""

from dataclasses import replace
from typing import Any

import pytest

from schedule.planner.check import check
from schedule.planner.problem import (
    DEFAULT_GOALS,
    Block,
    Day,
    Group,
    Lunch,
    Pin,
    Place,
    Problem,
    Window,
)
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from tests.planner.builders import at, service, tiny
from tests.planner.judged import WEEK, all_week, drive, item, session, week

DAY = Day(
    "mon",
    480,
    720,
    lunch=Lunch(30, 560, 620),
    blocks=(Block(690, 720, "b", "Meeting"), Block(640, 650)),
    start_place="a",
    end_place="b",
)
PLACES = (Place("a", "North School", 1, 2), Place("b", "South School", 3, 4))
DRIVES = {"a": {"b": 10}, "b": {"a": 12}}


def problem(**changes: Any) -> Problem:
    """x in a, then y in b, 2 + 10 + 3 minutes from door to door, 5 minutes to set up, lunch, two blocks, a pin."""
    asked: dict[str, Any] = {
        "places": PLACES,
        "drive_minutes": DRIVES,
        "days": (DAY,),
        "pins": (Pin("x", "mon", 500, "a"),),
        "setup_minutes": 5,
    }
    return tiny(service("x", at(500)), service("y", at(550, "b")), **{**asked, **changes})


X, DRIVE, SETUP, Y = session("x", 500), drive(530), item(ItemKind.SETUP, 545, 550), session("y", 550, "b")
LUNCH, DUTY = item(ItemKind.LUNCH, 580, 610), item(ItemKind.BLOCK, 640, 650, "b")
MEETING = item(ItemKind.BLOCK, 690, 720, "b")
GOOD = (X, DRIVE, SETUP, Y, LUNCH, DUTY, MEETING)


def broken(items: tuple[Item, ...], asked: Problem | None = None) -> list[str]:
    """The names of the rules that one day's itinerary breaks, one for each fault."""
    found = check(asked or problem(), Itinerary((DayPlan("mon", items),)))
    assert found.holds is (not found.violations)
    return [one.rule for one in found.violations]


def instead(*pairs: tuple[Item, Item | None]) -> tuple[Item, ...]:
    """The good itinerary with some items changed or, for None, left out."""
    changes = dict(pairs)
    return tuple(new for one in GOOD if (new := changes.get(one, one)) is not None)


def test_an_itinerary_that_keeps_every_rule_passes() -> None:
    """In whatever order its lines come."""
    assert broken(GOOD) == []
    assert broken(tuple(reversed(GOOD))) == []


def test_other_days_than_asked_are_no_plan() -> None:
    """Days missing, too many or of another name leave nothing to judge."""
    for days in ((), (DayPlan("tue", GOOD),), (DayPlan("mon", GOOD), DayPlan("mon", GOOD))):
        found = check(problem(), Itinerary(days))
        assert [(one.rule, one.day) for one in found.violations] == [("days", "")]
        assert found.figures.in_order(DEFAULT_GOALS) == (0,) * 5


def test_a_violation_names_its_day_and_its_rule() -> None:
    """A rule of one day names the day; one of the horizon names none."""
    found = check(problem(), Itinerary((DayPlan("mon", instead((X, None))),)))
    assert {(one.rule, one.day) for one in found.violations} == {("pins are kept", "")}
    found = check(problem(), Itinerary((DayPlan("mon", instead((LUNCH, None))),)))
    assert {(one.rule, one.day) for one in found.violations} == {("lunch is kept", "mon")}


def test_one_thing_at_a_time() -> None:
    """A minute in two things is one too many, whatever the order of the lines; end to end is right."""
    preparation = item(ItemKind.PREPARATION, 610, 640)
    assert broken((*GOOD, preparation)) == []
    assert broken((preparation, *GOOD)) == []
    assert broken((*GOOD, replace(preparation, start=609))) == ["one thing at a time"]
    assert broken((*GOOD, replace(preparation, end=641))) == ["one thing at a time"]


def test_inside_the_contract_day() -> None:
    """From 480 to 720 is inside; a minute more on either end isn't."""
    free = item(ItemKind.FREE, 480, 500)
    assert broken((*GOOD, free)) == []
    assert broken((*GOOD, replace(free, start=479))) == ["inside the contract day"]
    late = replace(DAY, blocks=())
    asked = problem(days=(late,))
    without = instead((DUTY, None), (MEETING, None))
    assert broken((*without, item(ItemKind.FREE, 700, 720)), asked) == []
    assert broken((*without, item(ItemKind.FREE, 700, 721)), asked) == ["inside the contract day"]


@pytest.mark.parametrize(
    "changes",
    [
        {"start": 551, "end": 581},
        {"end": 579},
        {"end": 581},
        {"space": "pool"},
        {"unit": "nobody"},
        {"unit": None},
        {"unit": "x"},
    ],
)
def test_a_session_only_at_its_starts(changes: dict[str, Any]) -> None:
    """Another minute, length, space or service than the start has is no start."""
    asked = problem(setup_minutes=0, days=(replace(DAY, lunch=None),))
    items = instead((LUNCH, None), (SETUP, None), (Y, replace(Y, **changes)))
    assert set(broken(items, asked)) - {"no more than owed", "days apart"} == {"only at its starts"}


def test_every_session_is_looked_at() -> None:
    """Two that nobody knows and one at a wrong minute are three faults."""
    items = (session("nobody", 480, minutes=10), session("no one", 490, minutes=10), session("x", 501))
    asked = tiny(service("x", at(500)))
    assert broken(items, asked) == ["only at its starts"] * 3


def test_a_start_of_another_day_or_length_of_its_own() -> None:
    """A start belongs to its day; where it gives a length, that counts and not the service's."""
    days = (Day("mon", 480, 720), Day("tue", 480, 720))
    asked = tiny(service("x", at(500, day="tue", minutes=20)), days=days)
    for day, minutes, rules in (
        ("tue", 20, []),
        ("tue", 30, ["only at its starts"]),
        ("mon", 20, ["only at its starts"]),
    ):
        plan = {"mon": (), "tue": (), day: (session("x", 500, minutes=minutes),)}
        found = check(asked, Itinerary(tuple(DayPlan(name, plan[name]) for name in ("mon", "tue"))))
        assert [one.rule for one in found.violations] == rules


@pytest.mark.parametrize(
    ("start", "minutes", "place", "space", "holds"),
    [
        (500, 30, "a", "gym", True),
        (510, 30, "a", "gym", True),
        (505, 30, "a", "gym", True),
        (499, 30, "a", "gym", False),
        (511, 30, "a", "gym", False),
        (505, 29, "a", "gym", False),
        (505, 31, "a", "gym", False),
        (505, 30, "b", "gym", False),
        (505, 30, "a", None, False),
    ],
)
def test_a_session_in_a_window(start: int, minutes: int, place: str, space: str | None, holds: bool) -> None:
    """From the window's first minute to its last, both included, there and at full length."""
    asked = tiny(service("x", windows=(Window("mon", 500, 510, "a", "gym"),)))
    assert broken((session("x", start, place, minutes, space=space),), asked) == (
        [] if holds else ["only at its starts"]
    )


def test_a_window_of_another_length() -> None:
    """Where it gives a length, that counts and not the service's."""
    asked = tiny(service("x", windows=(Window("mon", 500, 510, "a", minutes=20),)))
    assert broken((session("x", 500, minutes=20),), asked) == []
    assert broken((session("x", 500, minutes=30),), asked) == ["only at its starts"]


@pytest.mark.parametrize(
    ("change", "faults"),
    [
        (None, 1),
        ({"start": 689}, 2),
        ({"end": 719}, 2),
        ({"place": "a"}, 2),
    ],
)
def test_blocks_are_kept(change: dict[str, Any] | None, faults: int) -> None:
    """A block that is missing is one fault; one at another time or place is missing, and another is too many."""
    changed = None if change is None else replace(MEETING, **change)
    asked = problem(days=(replace(DAY, end_place=None),))
    assert broken(instead((MEETING, changed)), asked).count("blocks are kept") == faults


def test_a_block_without_a_place_is_held_wherever_the_teacher_is() -> None:
    """In b, as the good itinerary has it, or nowhere in particular."""
    assert broken(instead((DUTY, replace(DUTY, place=None)))) == []
    assert broken((*GOOD, item(ItemKind.BLOCK, 660, 670, "b"))) == ["blocks are kept"]


@pytest.mark.parametrize(
    ("items", "faults"),
    [
        # Ways of 15 minutes in all, 10 of them at the wheel.
        (instead((DRIVE, drive(531, minutes=14))), 1),
        (instead((DRIVE, drive(530, minutes=14))), 1),
        (instead((DRIVE, drive(530, wheel=9))), 1),
        (instead((DRIVE, drive(530, wheel=11))), 1),
        # To where the teacher is, from where the teacher isn't, between places that nobody knows.
        (instead((DRIVE, drive(530, "a", "a", minutes=3, wheel=0))), 2),
        (instead((DRIVE, drive(530, "b", "a", 17, 12)), (SETUP, None)), 2),
        (instead((DRIVE, drive(530, "a", "moon"))), 2),
        (instead((DRIVE, drive(530, "moon", "b"))), 1),
        # No drive at all: y is reached without one.
        (instead((DRIVE, None)), 1),
        # A day that begins in a and doesn't go to x there still has to leave it.
        (instead((X, None), (DRIVE, None)), 1),
    ],
)
def test_every_move_is_driven(items: tuple[Item, ...], faults: int) -> None:
    """From door to door, at the minutes of the table, from where one is to where one goes."""
    asked = problem(pins=(), setup_minutes=0)
    assert broken(items, asked) == ["every move is driven"] * faults


def test_a_drive_in_its_own_direction() -> None:
    """Back from b to a takes 4 + 12 + 1 minutes, not what the way there takes."""
    asked = problem(
        services=(service("x", at(500, "b")), service("y", at(560))), days=(Day("mon", 480, 720),), pins=()
    )
    there = [session("x", 500, "b"), session("y", 560)]
    assert broken((there[0], drive(530, "b", "a", 17, 12), there[1]), asked) == []
    assert broken((there[0], drive(530, "b", "a", 15, 10), there[1]), asked) == ["every move is driven"] * 2


def test_a_day_ends_where_it_should() -> None:
    """It begins and ends in b: one drive out and one back, or no visit in a."""
    day = Day("mon", 480, 720, start_place="b", end_place="b")
    asked = tiny(service("x", at(500)), days=(day,), places=PLACES, drive_minutes=DRIVES)
    out, back = drive(483, "b", "a", 17, 12), drive(530)
    assert broken((out, X, back), asked) == []
    assert broken((out, X), asked) == ["every move is driven"]
    assert broken((X, back), asked) == ["every move is driven"]
    assert broken((), asked) == []
    open_start = tiny(service("y", at(550, "b")), places=PLACES, drive_minutes=DRIVES)
    assert broken((DRIVE, Y), open_start) == []
    open_ends = tiny(service("x", at(500)), days=(Day("mon", 480, 720),))
    assert broken((X,), open_ends) == []
    only_end = tiny(service("x", at(500)), days=(Day("mon", 480, 720, end_place="b"),))
    assert broken((), only_end) == []
    assert broken((X,), only_end) == ["every move is driven"]


@pytest.mark.parametrize(
    ("other", "holds"),
    [
        (item(ItemKind.LUNCH, 505, 535), True),
        (item(ItemKind.LUNCH, 506, 536), False),
        (item(ItemKind.PREPARATION, 535, 540), False),
        (item(ItemKind.FREE, 535, 540), True),
        (item(ItemKind.PREPARATION, 510, 535), True),
        (item(ItemKind.PREPARATION, 570, 580), True),
    ],
)
def test_time_to_set_up(other: Item, holds: bool) -> None:
    """The five minutes before a session after another visit hold nothing but free time."""
    asked = tiny(
        service("x", at(480, minutes=20)),
        service("y", at(540)),
        setup_minutes=5,
        days=(Day("mon", 480, 720, lunch=Lunch(30, 480, 720)),),
    )
    lunch = () if other.kind is ItemKind.LUNCH else (item(ItemKind.LUNCH, 600, 630),)
    found = broken((session("x", 480, minutes=20), other, session("y", 540), *lunch), asked)
    assert found == ([] if holds else ["time to set up"])


def test_who_needs_no_time_to_set_up() -> None:
    """The first visit of the day, a meeting, and anybody where no time is asked for."""
    meeting = Day("mon", 480, 720, blocks=(Block(530, 560, "a"),))
    block = item(ItemKind.BLOCK, 530, 560, "a")
    asked = tiny(service("x", at(500)), service("y", at(560)), days=(meeting,), setup_minutes=5)
    assert broken((session("x", 500), block), asked) == []
    assert broken((session("x", 500), block, session("y", 560)), asked) == ["time to set up"]
    early = (item(ItemKind.PREPARATION, 490, 500), session("x", 500), block)
    assert broken(early, asked) == []
    no_time, a_minute = replace(asked, setup_minutes=0), replace(asked, setup_minutes=1)
    assert broken((session("x", 500), block, session("y", 560)), no_time) == []
    assert broken((session("x", 500), block, session("y", 560)), a_minute) == ["time to set up"]
    at_once = tiny(service("x", at(500)), service("y", at(520)))
    assert broken((session("x", 500), session("y", 520)), at_once) == ["one thing at a time"]


@pytest.mark.parametrize(
    ("start", "end", "holds"),
    [
        (580, 610, True),
        (590, 620, True),
        (591, 621, False),
        (580, 609, False),
        (580, 611, False),
    ],
)
def test_lunch_is_kept(start: int, end: int, holds: bool) -> None:
    """Thirty minutes, over by 620."""
    found = broken(instead((LUNCH, item(ItemKind.LUNCH, start, end))))
    assert found == ([] if holds else ["lunch is kept"])


@pytest.mark.parametrize(("start", "holds"), [(560, True), (559, False)])
def test_lunch_begins_no_sooner_than_its_window(start: int, holds: bool) -> None:
    """From 560 on."""
    asked = tiny(days=(Day("mon", 480, 720, lunch=Lunch(30, 560, 620)),))
    found = broken((item(ItemKind.LUNCH, start, start + 30),), asked)
    assert found == ([] if holds else ["lunch is kept"])


def test_no_lunch_two_lunches_and_one_that_nobody_asked_for() -> None:
    """One lunch where one is asked for, and none elsewhere."""
    asked = tiny(days=(Day("mon", 480, 720, lunch=Lunch(30, 560, 680)),))
    two = (item(ItemKind.LUNCH, 560, 590), item(ItemKind.LUNCH, 600, 630))
    assert broken((), asked) == broken(two, asked) == ["lunch is kept"]
    assert broken(two[:1], tiny()) == ["lunch is kept"]
    assert broken((), tiny()) == []


# ---- the whole horizon -----------------------------------------------------------------------------------


def rules(asked: Problem, plan: Itinerary) -> list[str]:
    """Rules of the horizon and of days that a week breaks."""
    return [one.rule for one in check(asked, plan).violations]


def test_no_more_than_owed_counts_groups_for_each_member() -> None:
    """One of x is owed: alone or in the group, and not both."""
    group = Group("g", ("x", "y"), 30, (at(500, day="tue"),))
    asked = tiny(service("x", *all_week()), service("y", *all_week(600)), groups=(group,), days=WEEK)
    alone, together = ("mon", session("x", 500)), ("tue", session("g", 500))
    assert rules(asked, week(alone)) == rules(asked, week(together)) == []
    assert rules(asked, week(alone, together)) == ["no more than owed"]
    both = week(alone, together, ("wed", session("y", 600)))
    assert rules(asked, both) == ["no more than owed"] * 2


@pytest.mark.parametrize(
    ("apart", "first", "second", "holds"),
    [
        (0, "mon", "mon", True),
        (1, "mon", "mon", False),
        (1, "mon", "tue", True),
        (2, "mon", "tue", False),
        (2, "mon", "wed", True),
        (2, "fri", "mon", True),
        (2, "thu", "fri", False),
    ],
)
def test_days_apart(apart: int, first: str, second: str, holds: bool) -> None:
    """The difference of the days is at least what is asked."""
    asked = tiny(service("x", *all_week(), *all_week(600), sessions=2, days_apart=apart), days=WEEK)
    found = rules(asked, week((first, session("x", 500)), (second, session("x", 600))))
    assert found == ([] if holds else ["days apart"])


def test_a_pin_holds_place_and_space() -> None:
    """Pinned to the gym at 500: the hall, another minute, another day or nothing at all is not it."""
    starts = [replace(one, space=space) for one in all_week() + all_week(600) for space in ("gym", "hall")]
    asked = tiny(service("x", *starts), days=WEEK, pins=(Pin("x", "tue", 500, "a", "gym"),))
    assert rules(asked, week(("tue", session("x", 500, space="gym")))) == []
    for held in (
        week(("tue", session("x", 500, space="hall"))),
        week(("tue", session("x", 600, space="gym"))),
        week(("wed", session("x", 500, space="gym"))),
        week(),
    ):
        assert rules(asked, held) == ["pins are kept"]


def test_a_pin_holds_the_place_and_not_only_the_minute() -> None:
    """Pinned to a: at the same minute in b is not it. Without a space, the space is no matter of the pin."""
    asked = tiny(service("x", at(500), at(500, "b")), pins=(Pin("x", "mon", 500, "a"),))
    assert broken((session("x", 500, "b"),), asked) == ["pins are kept"]
    assert broken((session("x", 500, space="gym"),), asked) == ["only at its starts"]
