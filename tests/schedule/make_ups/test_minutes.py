"""Open minutes, their due dates, pieces and the ranking of slots: pure."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import Effect, LedgerCalendar, LedgerRules, SessionRecord, Span
from caseload.plans.frequency import Frequency, FrequencyUnit
from schedule.make_ups.minutes import (
    SHORTEST_PIECE,
    BookedMinutes,
    Lengths,
    MakeUpSlot,
    OpenMinutes,
    days_to_avoid,
    in_order_of_date,
    joined_open,
    lengths_offered,
    less_booked,
    matching,
    open_minutes,
    piece_lengths,
    pieces_to_place,
)
from tests.caseload.ledger_lines import one_line

MONDAY = dt.date(2026, 9, 14)
RULES = LedgerRules(effects={"trip": Effect.OWED, "absent": Effect.NOT_OWED})


def day(offset: int) -> dt.date:
    """A date counted from the first Monday."""
    return MONDAY + dt.timedelta(days=offset)


def open_of(sessions: list[SessionRecord], as_of: dt.date, *booked: BookedMinutes) -> tuple[OpenMinutes, ...]:
    """Open minutes of a line of 2 x 30 a week that began on the Monday and runs for four weeks."""
    school = frozenset(day(n) for n in range(28) if day(n).weekday() < 5)
    line = one_line("1", Frequency(times=2, minutes=30, unit=FrequencyUnit.WEEK), MONDAY, day(27))
    ledger = build_ledger(line, LedgerCalendar(Span("year", MONDAY, day(27)), school), RULES, sessions, as_of)
    found = open_minutes(ledger.periods, sessions, RULES, make_up_days=10, last=line.last)
    return less_booked(found, booked)[0]


def held(offset: int, delivered: int | None, reason: str = "") -> SessionRecord:
    """A session of 30 minutes."""
    return SessionRecord(f"s{offset}", day(offset), 30, delivered, reason)


def test_owed_minutes_are_open_until_so_many_days_after_they_were_missed() -> None:
    """District rule of ten days (invented); the date counts from the missed session."""
    found = open_of([held(0, 30), held(2, 0, "trip")], day(6))
    assert found == (OpenMinutes(30, day(12), "week of September 14, 2026", day(2), "trip", "s2"),)


def test_each_missed_session_is_open_by_itself() -> None:
    """Two of one week: each has its own date, and 20 minutes made up answered the older one first."""
    made_up = SessionRecord("m", day(4), 20, 20, makes_up=True)
    found = open_of([held(0, 0, "trip"), held(2, 0, "trip"), made_up], day(6))
    assert [(one.minutes, one.missed, one.due) for one in found] == [
        (10, day(0), day(10)),
        (30, day(2), day(12)),
    ]


def test_a_make_up_held_for_the_later_session_leaves_the_earlier_open() -> None:
    """Two of one week, and the second was made up: the first is open, with its own date."""
    made_up = SessionRecord("m", day(4), 30, 30, makes_up=True, makes_up_for=day(2))
    found = open_of([held(0, 0, "trip"), held(2, 0, "trip"), made_up], day(6))
    assert [(one.minutes, one.missed, one.due) for one in found] == [(30, day(0), day(10))]


def test_what_no_session_was_planned_for_is_open_too() -> None:
    """One of two sessions was in the week, and missed: 30 minutes are that session's, 30 were never placed."""
    found = open_of([held(2, 0, "trip")], day(6))
    assert [(one.minutes, one.missed, one.due) for one in found] == [(30, None, day(16)), (30, day(2), day(12))]


def test_a_make_up_booked_for_a_session_takes_its_minutes() -> None:
    """Not the oldest ones: those wait as before."""
    sessions = [held(0, 0, "trip"), held(2, 0, "trip")]
    found = open_of(sessions, day(6), BookedMinutes(30, day(2)))
    assert [(one.minutes, one.missed) for one in found] == [(30, day(0))]
    beyond = open_of(sessions, day(6), BookedMinutes(40, day(2)))
    assert [(one.minutes, one.missed) for one in beyond] == [(20, day(0))]


def test_booked_minutes_beyond_everything_are_told() -> None:
    """50 booked, 30 open: 20 are for what is still to come."""
    open_ = open_of([held(0, 0, "trip"), held(2, 30)], day(6))
    assert less_booked(open_, [BookedMinutes(20), BookedMinutes(30)]) == ((), 20)


def test_minutes_that_are_not_owed_or_not_logged_are_not_open() -> None:
    """OSEP Letter to Clarke (March 8, 2007): what is missed is owed case by case, here by district table."""
    assert open_of([held(0, 0, "absent"), held(2, None)], day(6)) == ()


def test_a_booked_make_up_takes_the_oldest_minutes() -> None:
    """Nothing is offered twice."""
    sessions = [held(0, 0, "trip"), held(2, 30), held(7, 0, "trip"), held(9, 30)]
    found = open_of(sessions, day(13), BookedMinutes(30))
    assert found == (OpenMinutes(30, day(17), "week of September 21, 2026", day(7), "trip", "s7"),)


def test_nothing_is_due_after_the_service_ends() -> None:
    """The last day of the line bounds the date."""
    found = open_of([held(21, 30), held(25, 0, "trip")], day(27))
    assert found[-1].due == day(27)


def test_lengths_are_joined_whole_and_split() -> None:
    """Two usual sessions at most; halves of 15 minutes or more (common practice, no source)."""
    usual = Lengths(usual=30, least=10)
    assert piece_lengths(75, usual) == (60, 30, 15)
    assert piece_lengths(30, usual) == (30, 15)
    assert piece_lengths(20, usual) == (20,)
    assert piece_lengths(0, usual) == ()


@pytest.mark.parametrize(
    ("owed", "usual", "least", "lengths"),
    [
        (1, 30, 10, ()),
        (6, 30, 10, ()),
        (9, 30, 10, ()),
        (10, 30, 10, (10,)),
        (6, 30, 5, (6,)),
        (3, 3, 10, (3,)),
        (31, 30, 10, (31, 30, 15)),
        (39, 30, 10, (39, 30, 15)),
        (40, 30, 10, (40, 30, 15)),
        (63, 30, 10, (63, 60, 30, 15)),
        # A district for which every minute stays owed gives one minute where one is missed.
        (1, 30, 0, (1,)),
        (0, 30, 0, ()),
    ],
)
def test_a_few_minutes_are_no_session_but_are_added_to_one(
    owed: int, usual: int, least: int, lengths: tuple[int, ...]
) -> None:
    """Fewer than the district's shortest session (`LedgerSettings.least_minutes`) nobody drives to a school for."""
    assert piece_lengths(owed, Lengths(usual, least)) == lengths


@given(st.integers(1, 400), st.integers(1, 90), st.integers(0, 60))
def test_what_can_be_booked_never_leaves_minutes_that_never_can(owed: int, usual: int, least: int) -> None:
    """Whichever lengths are booked, the rest fits into a session or is told to be too few for one."""
    found = piece_lengths(owed, Lengths(usual, least))
    few = Lengths(usual, least).shortest_alone
    assert all(few <= length <= owed for length in found)
    stuck = [one for one in found if 0 < owed - one < few]
    assert not stuck or owed in found
    assert bool(found) == (owed >= few)


@pytest.mark.parametrize(
    ("minutes", "missed", "lengths"),
    [
        (30, True, (30, 15)),
        (20, True, (20,)),
        (31, True, (31, 30, 15)),
        (90, False, (30, 15)),
        (75, True, (60, 30, 15)),
    ],
)
def test_the_whole_that_was_missed_comes_before_less(minutes: int, missed: int, lengths: tuple[int, ...]) -> None:
    """Usual sessions of 30; without a missed session one usual session at a time; never more than two of them."""
    one = OpenMinutes(minutes, day(9), "week 1", day(2) if missed else None)
    assert lengths_offered(one, Lengths(30, 10)) == lengths


@given(st.integers(1, 400), st.integers(SHORTEST_PIECE, 90))
def test_pieces_add_up_and_none_is_too_short(minutes: int, usual: int) -> None:
    """Every minute is placed once; only a whole remainder may be shorter than the shortest piece."""
    pieces = pieces_to_place(minutes, usual)
    assert sum(pieces) == minutes
    assert all(piece >= SHORTEST_PIECE for piece in pieces) or len(pieces) == 1
    assert all(piece <= 2 * usual for piece in pieces)


def test_a_minute_of_one_week_is_joined_to_what_is_open_of_another() -> None:
    """Else it would be placed alone."""
    open_ = [OpenMinutes(1, day(2), "week 1"), OpenMinutes(60, day(9), "week 2")]
    assert joined_open(open_, Lengths(30, 10)) == (OpenMinutes(61, day(2), "week 1"),)


def test_short_remainders_of_neighboring_weeks_become_one_session() -> None:
    """Three times ten minutes are one session of thirty, due when the first of them is."""
    ten = [OpenMinutes(10, day(n), f"week {n}") for n in (9, 2, 16)]
    assert joined_open(ten, Lengths(30, 10)) == (OpenMinutes(30, day(2), "week 9"),)


def slot(date: dt.date, drive: int, start: int = 600, *, there: bool = True) -> MakeUpSlot:
    """A slot of thirty minutes."""
    return MakeUpSlot(date, start, start + 30, "N", "North Hollow", "4", None, "Gym", drive, there)


def test_slots_stand_by_date_and_each_moment_once() -> None:
    """Not by driving, which stands beside; of two ways to have a moment the one with less driving."""
    far, late, near, again = slot(day(1), 12), slot(day(9), 0), slot(day(3), 0), slot(day(1), 5)
    found = in_order_of_date([near, far, late, again], due=day(5))
    assert [(one.date, one.added_drive_minutes, one.late) for one in found] == [
        (day(1), 5, False),
        (day(3), 0, False),
        (day(9), 0, True),
    ]


def test_slots_of_a_day_and_of_a_school() -> None:
    """September 15 is a Tuesday, the 17th a Thursday."""
    tuesday, thursday = slot(day(1), 0), slot(day(3), 0)
    thursday = replace(thursday, building_code="S")
    assert matching([tuesday, thursday], weekday=1) == (tuesday,)
    assert matching([tuesday, thursday], building="S") == (thursday,)
    assert matching([tuesday, thursday], weekday=1, building="S") == ()
    assert matching([tuesday, thursday]) == (tuesday, thursday)


def test_miles_are_said_beside_a_slot() -> None:
    """In words, one mile in the singular."""
    words = [replace(slot(day(1), 0), added_miles=Decimal(miles)).miles_words for miles in ("0", "1", "5.2", "-2")]
    assert words == ["no more miles", "1 more mile", "5.2 more miles", "no more miles"]


def test_a_slot_says_what_it_costs() -> None:
    """In words, without a name of a student."""
    assert slot(day(1), 0).words == "You are at North Hollow anyway, and period 4 is open."
    assert "25 minutes more at the wheel" in slot(day(1), 25, there=False).words


def test_a_line_that_meets_on_every_day_has_no_day_to_avoid() -> None:
    """Days apart can't be kept where every day has a session."""
    week = [day(n) for n in range(5)]
    assert days_to_avoid(1, week[:2], daily=False) == frozenset(week[:2])
    assert days_to_avoid(1, week, daily=True) == frozenset()
    assert days_to_avoid(0, week[:2], daily=False) == frozenset()
