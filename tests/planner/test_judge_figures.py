"""The judge's figures on itineraries written by hand, each by its definition in docs/planner.md."""

from dataclasses import replace
from typing import Any

import pytest

from schedule.planner.check import check
from schedule.planner.problem import Day, Group, LongestStretch, Preparation, Service, Session, Window
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from tests.planner.builders import at, service, tiny
from tests.planner.judged import WEEK, all_week, drive, item, session, week

X, DRIVE, SETUP, Y = session("x", 500), drive(530), item(ItemKind.SETUP, 545, 550), session("y", 550, "b")
LUNCH = item(ItemKind.LUNCH, 580, 610)


def test_unplaced_minutes_count_by_their_weight() -> None:
    """Two of three sessions of 30 minutes at weight 2, and 20 at weight 1, are 140; too many are no credit."""
    asked = tiny(
        service("x", *all_week(), sessions=3, weight=2),
        service("y", *all_week(600), minutes=20),
        days=WEEK,
    )
    assert check(asked, week(("mon", session("x", 500)))).figures.unplaced == 140
    y = [("mon", session("y", 600, minutes=20)), ("tue", session("y", 600, minutes=20))]
    assert check(asked, week(*y)).figures.unplaced == 180


def test_driving_is_the_time_at_the_wheel() -> None:
    """Not what packing up and signing in take; every drive of every day counts."""
    asked = tiny(days=(Day("mon", 480, 720), Day("tue", 480, 720)))
    plan = Itinerary((DayPlan("mon", (DRIVE, drive(600, "b", "a", 17, 12))), DayPlan("tue", (DRIVE,))))
    assert check(asked, plan).figures.driving == 32


def missed(items: tuple[Item, ...], day: Day, **wishes: Any) -> int:
    """Minutes of wishes that a day misses, sessions of any kind aside."""
    return check(tiny(days=(day,), **wishes), Itinerary((DayPlan("mon", items),))).figures.wishes


def test_preparation_is_what_is_left_of_the_contract_day() -> None:
    """480 to 720 less 500 to 530, a drive to 545, set-up to 550, to 580, lunch to 610: pieces of 20 and 110."""
    items = (X, DRIVE, SETUP, Y, LUNCH)
    for wished, short in ((130, 0), (131, 1), (240, 110)):
        assert missed(items, Day("mon", 480, 720, preparation_minutes=wished)) == short
        assert missed(items, Day("mon", 480, 720), preparation=Preparation(wished)) == short
    assert missed((), Day("mon", 480, 720, preparation_minutes=241)) == 1
    all_but_a_minute = (item(ItemKind.BLOCK, 481, 720),)
    assert missed(all_but_a_minute, Day("mon", 480, 720, preparation_minutes=1)) == 0


def test_preparation_counts_in_pieces_of_the_smallest_block() -> None:
    """Of 20 and 110 minutes only the longer counts at 21; at 20 both do."""
    items = (X, DRIVE, SETUP, Y, LUNCH)
    for smallest, short in ((20, 0), (21, 20), (110, 20), (111, 130)):
        assert missed(items, Day("mon", 480, 720), preparation=Preparation(130, smallest)) == short


def test_free_time_and_preparation_written_down_are_still_free() -> None:
    """They are names for what is left, not things that fill the day; overlapping items aren't counted twice."""
    items = (X, item(ItemKind.FREE, 540, 600), item(ItemKind.PREPARATION, 600, 720))
    assert missed(items, Day("mon", 480, 720, preparation_minutes=210)) == 0
    twice = (item(ItemKind.BLOCK, 500, 600), item(ItemKind.BLOCK, 510, 550))
    assert missed(twice, Day("mon", 480, 720, preparation_minutes=140)) == 0
    assert missed(twice, Day("mon", 480, 720, preparation_minutes=141)) == 1
    to_the_end = (item(ItemKind.BLOCK, 480, 720),)
    assert missed(to_the_end, Day("mon", 480, 720, preparation_minutes=1)) == 1


def test_preparation_of_the_horizon_is_that_of_all_days_together() -> None:
    """Two empty days of 240 minutes hold 480; each day's wish is held against that day alone."""
    days = (Day("mon", 480, 720, preparation_minutes=250), Day("tue", 480, 720, preparation_minutes=245))
    asked = tiny(days=days, preparation=Preparation(487))
    plan = Itinerary((DayPlan("mon", ()), DayPlan("tue", ())))
    assert check(asked, plan).figures.wishes == 10 + 5 + 7


STRETCH = LongestStretch(60, 10)


@pytest.mark.parametrize(
    ("items", "over"),
    [
        ((), 0),
        # One visit of 60 minutes is right, of 61 a minute too long.
        ((item(ItemKind.BLOCK, 500, 560),), 0),
        ((item(ItemKind.BLOCK, 500, 561),), 1),
        # A gap of ten minutes is a break, of nine isn't.
        ((item(ItemKind.BLOCK, 500, 560), item(ItemKind.BLOCK, 570, 630)), 0),
        ((item(ItemKind.BLOCK, 500, 560), item(ItemKind.BLOCK, 569, 629)), 69),
        # Both runs too long: each counts by itself.
        ((item(ItemKind.BLOCK, 500, 565), item(ItemKind.BLOCK, 580, 647)), 5 + 7),
        # Lunch is a break however short; a drive is none.
        (
            (item(ItemKind.BLOCK, 500, 560), item(ItemKind.LUNCH, 560, 565), item(ItemKind.BLOCK, 565, 625)),
            0,
        ),
        ((item(ItemKind.BLOCK, 500, 560), drive(560), item(ItemKind.BLOCK, 575, 635)), 75),
        # Short runs are no credit for a long one, and what is free before the first visit is no break after it.
        ((item(ItemKind.BLOCK, 500, 520), item(ItemKind.BLOCK, 540, 610), item(ItemKind.BLOCK, 640, 650)), 10),
        ((item(ItemKind.BLOCK, 640, 660), item(ItemKind.BLOCK, 500, 540), item(ItemKind.BLOCK, 540, 570)), 10),
    ],
)
def test_minutes_over_the_longest_stretch(items: tuple[Item, ...], over: int) -> None:
    """From the first visit of a run to the end of its last, drives included."""
    assert missed(items, Day("mon", 480, 720), longest_stretch=STRETCH) == over
    assert missed(items, Day("mon", 480, 720)) == 0


def test_a_session_moved_is_one_that_is_not_held_as_it_was() -> None:
    """Another day, minute or place is a move, as is nothing; services that are gone don't count."""
    starts = [*all_week(), *all_week(600), at(500, "b", "mon")]
    asked = tiny(service("x", *starts), days=WEEK, current=(Session("x", "mon", 500, "a"),))
    for held, moved in (
        (week(("mon", session("x", 500))), 0),
        (week(("tue", session("x", 500))), 1),
        (week(("mon", session("x", 600))), 1),
        (week(("mon", session("x", 500, "b"))), 1),
        (week(), 1),
    ):
        assert check(asked, held).figures.change == moved
    gone = tiny(
        service("x", *starts), days=WEEK, current=(Session("gone", "mon", 500, "a"), *(asked.current or ()))
    )
    assert check(gone, week()).figures.change == 1
    assert check(tiny(days=WEEK), week()).figures.change == 0


def test_a_session_on_a_day_that_is_no_more_has_moved() -> None:
    """Saturday isn't in the horizon; what was held then can't be kept on any other day."""
    asked = tiny(service("x", *all_week()), days=WEEK, current=(Session("x", "sat", 500, "a"),))
    for day in WEEK:
        assert check(asked, week((day.id, session("x", 500)))).figures.change == 1


def test_a_group_moved_is_a_move_of_each_member() -> None:
    """And a member that is held alone then and there has kept its time."""
    group = Group("g", ("x", "y"), 30, (at(500),))
    asked = tiny(
        service("x", *all_week()), service("y", *all_week()), groups=(group,), days=WEEK,
        current=(Session("g", "mon", 500, "a"),),
    )  # fmt: skip
    assert check(asked, week()).figures.change == 2
    assert check(asked, week(("mon", session("x", 500)))).figures.change == 1
    assert check(asked, week(("mon", session("g", 500)))).figures.change == 0


def sameness(one: Service, *held: tuple[str, Item]) -> int:
    """The figure of a week with one service."""
    return check(tiny(one, days=WEEK), week(*held)).figures.sameness


def test_minutes_off_the_usual_time() -> None:
    """The nearest usual time of the start's key counts, 60 at most, and 60 where the key has none."""
    starts = [at(minute, day="mon", pattern_key="Mon") for minute in (500, 520, 600)]
    starts.append(at(500, day="tue", pattern_key="Tue"))
    one = service("x", *starts, usual=(("Mon", 500), ("Mon", 530), ("Wed", 500)))
    for day, minute, off in (("mon", 500, 0), ("mon", 520, 10), ("mon", 600, 60), ("tue", 500, 60)):
        assert sameness(one, (day, session("x", minute))) == off
    near = replace(one, usual=(("Mon", 541),))
    assert sameness(near, ("mon", session("x", 600))) == 59


def test_the_usual_time_is_that_of_the_start_that_is_used() -> None:
    """Two places at one minute have keys of their own; a window gives its key from its first minute to its last."""
    starts = (at(500, "a", pattern_key="A"), at(500, "b", pattern_key="B"))
    one = service("x", *starts, usual=(("A", 500), ("B", 520)))
    assert [sameness(one, ("mon", session("x", 500, place))) for place in ("a", "b")] == [0, 20]
    windows = (
        Window("mon", 500, 510, "a", pattern_key="W"), Window("tue", 500, 510, "a", pattern_key="T"),
        Window("mon", 500, 510, "b", pattern_key="V"),
    )  # fmt: skip
    open_then = service("x", windows=windows, usual=(("W", 505), ("T", 500), ("V", 510)))
    assert [sameness(open_then, ("mon", session("x", minute))) for minute in (500, 505, 510)] == [5, 0, 5]
    assert sameness(open_then, ("mon", session("x", 511))) == 60
    assert sameness(open_then, ("mon", session("x", 499))) == 60
    assert sameness(open_then, ("tue", session("x", 505))) == 5
    assert sameness(open_then, ("mon", session("x", 505, "b"))) == 5


def test_the_usual_time_of_a_group_is_found_for_each_member() -> None:
    """Somebody else's session at the same minute of the day is not it."""
    group = Group("g", ("x", "y"), 30, (at(600, pattern_key="G"),))
    services = (
        service("x", at(500, pattern_key="X"), usual=(("G", 605),)),
        service("y", at(500, pattern_key="Y")),
        service("z", at(600, pattern_key="Z")),
    )
    asked = tiny(*services, groups=(group,))
    plan = Itinerary((DayPlan("mon", (session("z", 600), session("nobody", 600), session("g", 600))),))
    assert check(asked, plan).figures.sameness == 5


def test_a_service_alone_and_in_a_group_on_one_day_has_two_usual_times() -> None:
    """Each session is held against the key of the start at which it is."""
    group = Group("g", ("x",), 30, (at(600, pattern_key="G"),))
    x = service("x", at(500, pattern_key="X"), sessions=2, days_apart=0, usual=(("X", 500), ("G", 600)))
    asked = tiny(x, groups=(group,))
    plan = Itinerary((DayPlan("mon", (session("x", 500), session("g", 600))),))
    found = check(asked, plan)
    # One day holds both, which is one day closer than evenly spread.
    assert (found.holds, found.figures.sameness) == (True, 15)


def test_without_usual_times_it_is_the_services_own_median() -> None:
    """500, 510 and 540 lie 10, 0 and 30 off the middle one; of two the earlier counts; 60 minutes at most."""
    minutes = (500, 510, 540, 640)
    starts = [at(minute, day=day.id) for minute in minutes for day in WEEK]
    one = service("x", *starts, sessions=3)
    held = [("mon", session("x", 540)), ("wed", session("x", 500)), ("fri", session("x", 510))]
    assert sameness(one, *held) == 40
    two = service("x", *starts, sessions=2)
    assert sameness(two, held[0], held[1]) == 40
    assert sameness(two, held[1], ("mon", session("x", 640))) == 60
    assert sameness(two) == 0


@pytest.mark.parametrize(
    ("sessions", "days", "figure"),
    [
        # Two in five days stand two apart (5 // 2), three or more one apart, and one has no neighbor.
        (2, ("mon", "wed"), 0),
        (2, ("mon", "tue"), 15),
        (2, ("mon", "mon"), 30),
        (2, ("mon", "fri"), 0),
        (3, ("mon", "tue", "tue"), 15),
        (5, ("mon", "tue", "wed", "thu", "fri"), 0),
        (1, ("mon",), 0),
    ],
)
def test_days_that_stand_closer_than_evenly_spread(sessions: int, days: tuple[str, ...], figure: int) -> None:
    """Fifteen for each day that is missing between two neighbors."""
    one = service("x", *all_week(), sessions=sessions)
    held = [(day, session("x", 500)) for day in days]
    assert sameness(one, *held) == figure
    usual = replace(one, usual=(("k", 500),), starts=tuple(replace(start, pattern_key="k") for start in one.starts))
    assert sameness(usual, *held) == figure
    assert sameness(service("x", *all_week(), sessions=0)) == 0
