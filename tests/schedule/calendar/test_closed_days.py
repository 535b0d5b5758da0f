"""Which dates are closed where: a building's own word first, and the same answer as the school calendar gives."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.calendar.calendars import EntryKind, SpecialDays, is_open
from schedule.calendar.closed_days import ClosedDays, Closing, DayEntry, day_entry

MONDAY = dt.date(2026, 11, 30)
HERE, THERE = 1, 2


def day(number: int) -> dt.date:
    """Days after the Monday."""
    return MONDAY + dt.timedelta(days=number)


def entry(building: int | None, kind: str, first: int = 0, last: int = 0) -> DayEntry:
    """An entry by days after the Monday."""
    return day_entry(building, day(first), day(last), kind)


def test_a_closure_runs_from_its_first_day_to_its_last() -> None:
    """Both are closed, their neighbors aren't."""
    closed = ClosedDays([entry(None, "closed", 1, 3)])
    assert [closed.on(HERE, day(number)) for number in range(5)] == [False, True, True, True, False]


def test_a_buildings_own_word_comes_before_the_districts() -> None:
    """One building that opens, or only shortens, a day that the district closes is open; the other stays closed."""
    for kind in ("open", "early_dismissal"):
        closed = ClosedDays([entry(HERE, kind), entry(None, "closed")])
        assert (closed.on(HERE, MONDAY), closed.on(THERE, MONDAY)) == (False, True)
    own = ClosedDays([entry(HERE, "closed"), entry(None, "open")])
    assert (own.on(HERE, MONDAY), own.on(THERE, MONDAY)) == (True, False)


def test_an_own_word_about_another_day_says_nothing_of_this_one() -> None:
    """The district's closure holds."""
    closed = ClosedDays([entry(HERE, "open", 1, 1), entry(None, "closed")])
    assert closed.closing(HERE, MONDAY) is Closing.CLOSED


@pytest.mark.parametrize(
    ("kinds", "closing"),
    [
        (("no_students", "closed"), Closing.CLOSED),
        (("no_students", "open"), Closing.NO_STUDENTS),
        (("early_dismissal",), None),
        ((), None),
    ],
)
def test_what_closes_wins_and_nobody_there_wins_over_staff_only(
    kinds: tuple[str, ...], closing: Closing | None
) -> None:
    """Whatever the order in which the entries come."""
    entries = [entry(HERE, kind) for kind in kinds]
    for order in (entries, entries[::-1]):
        assert ClosedDays(order).closing(HERE, MONDAY) is closing


ENTRIES = st.lists(
    st.tuples(st.booleans(), st.sampled_from(EntryKind), st.integers(0, 4), st.integers(0, 2)), max_size=6
)


@given(ENTRIES, st.integers(0, 4))
def test_it_agrees_with_the_school_calendar(rows: list[tuple[bool, EntryKind, int, int]], at: int) -> None:
    """Two readers of the same entries: on a usual weekday, closed here is not open there."""
    own = [entry(HERE if here else None, kind, first, first + more) for here, kind, first, more in rows]
    school = [
        SpecialDays(day(first), day(first + more), kind, bell="Bells", precedence=int(here))
        for here, kind, first, more in rows
    ]
    assert ClosedDays(own).on(HERE, day(at)) is not is_open(day(at), range(5), school)
