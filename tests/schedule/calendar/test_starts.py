"""Candidate starts from bells, spaces and times kept free. Expected moments are worked out by hand."""

import datetime as dt

import pytest

from schedule.calendar.bells import Bells, Period, PeriodKind
from schedule.calendar.laid_out import DayFacts, day_is_named
from schedule.calendar.starts import (
    Bar,
    ClassSpan,
    Hold,
    Need,
    SpaceDay,
    StudentDay,
    WeeklyTime,
    class_moments,
    find_starts,
    free_words,
    moments,
)

MONDAY = dt.date(2026, 9, 14)
BELLS = Bells(
    "Regular",
    (
        Period("1", 510, 555),
        Period("2", 560, 605),
        Period("Lunch K", 610, 640, PeriodKind.LUNCH, frozenset({"K"})),
        Period("3", 610, 655),
    ),
    passing_minutes=5,
)
FACTS = DayFacts(MONDAY, open=True, bells=BELLS)
DAY = (480, 900)
ANY = StudentDay("S1", "3")


def minutes(need: Need, facts: DayFacts = FACTS) -> list[int]:
    return [start.at for start in find_starts("NORTH", facts, need, DAY).starts]


@pytest.mark.parametrize(
    ("days", "label", "named"),
    [
        ("", "", True),
        ("Mon,Wed", "", True),
        ("monday", "", True),
        ("Tue", "", False),
        ("Mon-Thu", "", True),
        ("Tue-Thu", "", False),
        ("Day 3", "Day 3", True),
        ("3", "Day 3", True),
        ("Day 3", "Day 4", False),
        ("a", "A", True),
        ("B", "A", False),
    ],
)
def test_days_are_named_by_weekday_or_cycle_day(days: str, label: str, named: bool) -> None:
    assert day_is_named(days, DayFacts(MONDAY, open=True, cycle_label=label)) is named


def test_a_session_begins_or_ends_with_the_bell() -> None:
    assert moments(BELLS, 30, "3") == (510, 525, 560, 575, 610, 625)


def test_a_session_longer_than_a_period_runs_on_into_the_next() -> None:
    # With the bell of 1 or 2, to end with the bell of 2 or 3, and half an hour into 1.
    assert moments(BELLS, 90, "3") == (510, 515, 540, 560, 565)


def test_a_long_period_has_starts_every_half_hour() -> None:
    long = Bells("Block", (Period("A", 480, 600),))
    assert moments(long, 20, None) == (480, 510, 540, 570, 580)


def test_lunch_of_the_grade_is_barred_with_its_reason() -> None:
    found = find_starts("NORTH", FACTS, Need(30, (StudentDay("S9", "K"),)), DAY)
    assert [start.at for start in found.starts] == [510, 525, 560, 575]
    assert {(bar.at, bar.reason_code) for bar in found.barred} == {(610, "lunch"), (625, "lunch")}
    assert "S9 has lunch 10:10 to 10:40" in {bar.text for bar in found.barred}


def test_a_lunch_of_the_class_takes_the_place_of_its_grades() -> None:
    """Grade K's is 10:10 to 10:40; the class eats from 9:20 to 9:50 and is taken in period 3 as others are."""
    fed = StudentDay("S9", "K", lunch=((560, 590),))
    found = find_starts("NORTH", FACTS, Need(30, (fed,)), DAY)
    assert [start.at for start in found.starts] == [510, 525, 610, 625]
    assert {bar.text for bar in found.barred} == {"S9 has lunch 9:20 to 9:50"}


def test_a_hold_bars_what_it_touches_and_nothing_else() -> None:
    hold = Hold((535, 565), Bar("student_held", "S1 can't be taken then", "the physical therapist"))
    found = find_starts("NORTH", FACTS, Need(30, (StudentDay("S1", "3", (hold,)),)), DAY)
    assert [start.at for start in found.starts] == [575, 610, 625]
    assert {(bar.at, bar.ask) for bar in found.barred} == {
        (510, "the physical therapist"),
        (525, "the physical therapist"),
        (560, "the physical therapist"),
    }


@pytest.mark.parametrize(
    ("free", "words"),
    [
        (((560, 605),), "free only in period 2"),
        (((510, 555), (610, 655)), "free only in periods 1 and 3"),
        # Not whole periods: the clock says it better.
        (((560, 600),), "free only 9:20 to 10:00"),
        (((480, 900),), "free only 8:00 to 3:00"),
        ((), "free at no time on this day"),
    ],
)
def test_when_a_space_is_free_is_said_in_periods(free: tuple[tuple[int, int], ...], words: str) -> None:
    assert free_words(free, BELLS) == words


def test_two_rules_in_the_way_leave_nothing_to_ask_for() -> None:
    hold = Hold((510, 555), Bar("student_held", "held", "the class teacher"))
    closed = SpaceDay("Gym", "the office", free=((600, 700),))
    found = find_starts("NORTH", FACTS, Need(30, (StudentDay("S1", "3", (hold,)),), (closed,)), DAY)
    assert 510 not in {bar.at for bar in found.barred}
    assert {(bar.at, bar.reason_code) for bar in found.barred} == {(560, "space_not_free"), (575, "space_not_free")}


def test_a_space_holds_as_many_classes_as_fit() -> None:
    one = SpaceDay("Gym", "the office", fits=1, uses=((560, 605),))
    two = SpaceDay("Gym", "the office", fits=2, uses=((560, 605),))
    assert minutes(Need(30, (ANY,), (one,))) == [510, 525, 610, 625]
    assert minutes(Need(30, (ANY,), (two,))) == [510, 525, 560, 575, 610, 625]


def test_another_space_takes_over_where_the_first_is_in_use() -> None:
    gym = SpaceDay("Gym", "the office", uses=((510, 605),))
    room = SpaceDay("Room", "the office", free=((500, 560),))
    found = find_starts("NORTH", FACTS, Need(30, (ANY,), (gym, room)), DAY)
    assert {(start.at, start.space) for start in found.starts} == {
        (510, "Room"),
        (525, "Room"),
        (610, "Gym"),
        (625, "Gym"),
    }


def test_a_hold_that_is_moved_leads_to_a_space_that_is_free_then() -> None:
    """The gym is in use in period 2, the room isn't: if the time kept free were moved, the session were there."""
    gym = SpaceDay("Gym", "the office", uses=((560, 605),))
    room = SpaceDay("Room", "the office")
    held = StudentDay("S1", "3", (Hold((560, 605), Bar("student_held", "S1 can't be taken", "the teacher")),))
    barred = find_starts("NORTH", FACTS, Need(45, (held,), (gym, room)), DAY).barred
    assert [(one.at, one.reason_code, one.space) for one in barred] == [(560, "student_held", "Room")]


def test_pushed_in_sessions_stay_inside_the_class_period() -> None:
    need = Need(30, (ANY,), inside=(ClassSpan((560, 605), "Gym"),))
    found = find_starts("NORTH", FACTS, need, DAY)
    assert {(start.at, start.space) for start in found.starts} == {(560, "Gym"), (575, "Gym")}
    assert class_moments((560, 580), 30) == ()


def test_nothing_begins_outside_the_contract_day_or_on_a_closed_one() -> None:
    assert [s.at for s in find_starts("NORTH", FACTS, Need(30, (ANY,)), (550, 650)).starts] == [560, 575, 610]
    assert minutes(Need(30, (ANY,)), DayFacts(MONDAY, open=False, bells=BELLS)) == []


def test_a_slot_by_period_follows_the_bells_of_the_date() -> None:
    assert WeeklyTime("Mon", "2").span_on(FACTS) == (560, 605)
    assert WeeklyTime("Mon", "7").span_on(FACTS) is None
    assert WeeklyTime("Tue", "2").span_on(FACTS) is None
    assert WeeklyTime("", "", 600, 630).span_on(FACTS) == (600, 630)
