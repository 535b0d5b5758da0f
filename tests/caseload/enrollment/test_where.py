"""Where a student is on a date, pure. The rules are ours (docs/minutes-ledger.md); dates are invented."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.plans.enrollments import (
    ONE_DAY,
    Stay,
    buildings_between,
    days_where_the_student_is,
    runs_of,
    school_days_around,
    stay_nearest,
    stay_on,
    stretches_of,
    teacher_on,
)

NORTH, SOUTH, MORNINGS = 1, 2, 3
MOVE = dt.date(2026, 12, 7)
MOVED = (Stay(NORTH, None, MOVE - ONE_DAY), Stay(SOUTH, MOVE, None))
START, END = dt.date(2026, 9, 1), dt.date(2027, 6, 18)


def test_the_days_before_a_move_stay_with_the_school_before() -> None:
    """From its first day on the new school, and not a day sooner."""
    on = {day: stay_on(MOVED, day) for day in (MOVE - ONE_DAY, MOVE)}
    assert [stay.building_id for stay in on.values() if stay] == [NORTH, SOUTH]


def test_a_service_names_the_program_that_it_is_given_at() -> None:
    """The school otherwise; and once the program has ended, for the minutes are owed all the same."""
    stays = (Stay(NORTH), Stay(MORNINGS, MOVE, MOVE + 4 * ONE_DAY, program=True))
    asked = [(MOVE, None), (MOVE, MORNINGS), (MOVE + 5 * ONE_DAY, MORNINGS), (MOVE - ONE_DAY, MORNINGS)]
    found = [stay_on(stays, day, named) for day, named in asked]
    assert [stay.building_id for stay in found if stay] == [NORTH, MORNINGS, NORTH, NORTH]


def test_nobody_is_anywhere_before_the_first_day_and_after_the_last() -> None:
    """What needs a clock still finds the school that was last, or will be first."""
    stays = (Stay(NORTH, START, MOVE - ONE_DAY), Stay(SOUTH, MOVE + 10 * ONE_DAY, END))
    away = [START - ONE_DAY, MOVE, END + ONE_DAY]
    assert [stay_on(stays, day) for day in away] == [None, None, None]
    assert [stay_nearest(stays, day).building_id for day in away] == [NORTH, NORTH, SOUTH]
    with pytest.raises(ValueError, match="somewhere"):
        stay_nearest((), START)


def test_a_move_breaks_no_run_and_time_away_does() -> None:
    """One run of days from one school to the next; two where the student was gone in between."""
    assert runs_of(MOVED, START, END) == ((START, END),)
    back = MOVE + 10 * ONE_DAY
    stays = (Stay(NORTH, None, MOVE - ONE_DAY), Stay(NORTH, back, None))
    assert runs_of(stays, START, END) == ((START, MOVE - ONE_DAY), (back, END))
    assert runs_of((Stay(NORTH, END + ONE_DAY, None),), START, END) == ()


def test_each_day_goes_by_the_calendar_of_its_own_school() -> None:
    """South closes the Friday before the move, North the day of it: neither is the student's."""
    friday = MOVE - 3 * ONE_DAY
    open_days = {NORTH: {friday}, SOUTH: {MOVE}}
    assert days_where_the_student_is(MOVED, open_days) == {friday, MOVE}
    assert days_where_the_student_is(MOVED, {NORTH: {MOVE}, SOUTH: {friday}}) == set()


def test_the_buildings_of_a_stretch_in_their_order() -> None:
    """Once each; none where the student isn't there yet."""
    assert buildings_between(MOVED, START, END) == (NORTH, SOUTH)
    assert buildings_between(MOVED, MOVE, END) == (SOUTH,)
    assert buildings_between((Stay(NORTH, END, None),), START, MOVE) == ()


def test_a_caseload_goes_over_on_its_day() -> None:
    """Before the first assignment it is the first teacher's: a caseload has no hole at its beginning."""
    dated = [(MOVE, 8), (None, 7)]
    assert [teacher_on(dated, day) for day in (MOVE - ONE_DAY, MOVE, END)] == [7, 8, 8]
    assert teacher_on([(MOVE, 8)], START) == 8
    assert teacher_on([], START) is None


DAYS = st.dates(dt.date(2026, 8, 1), dt.date(2026, 10, 1))


@given(turns=st.lists(st.tuples(DAYS, st.integers(1, 4)), min_size=1, unique_by=lambda one: one[0]), day=DAYS)
def test_one_school_after_the_other_is_the_last_one_that_began(
    turns: list[tuple[dt.date, int]], day: dt.date
) -> None:
    """Read off the turns themselves, without their last days."""
    dated = sorted(turns)
    ends = [later - ONE_DAY for later, _ in dated[1:]] + [None]
    stays = tuple(Stay(place, first, last) for (first, place), last in zip(dated, ends, strict=True))
    begun = [place for first, place in dated if first <= day]
    found = stay_on(stays, day)
    assert (found.building_id if found else None) == (begun[-1] if begun else None)
    assert sum((last - first).days + 1 for first, last in runs_of(stays, dt.date(2026, 8, 1), day)) == (
        max((day - dated[0][0]).days + 1, 0)
    )


def test_a_program_in_the_middle_parts_the_days_at_the_school() -> None:
    """For the service that names it; for every other service nothing is parted."""
    stays = (Stay(NORTH), Stay(MORNINGS, MOVE, MOVE + 4 * ONE_DAY, program=True))
    back = MOVE + 5 * ONE_DAY
    assert stretches_of(stays, START, END, MORNINGS) == (
        (NORTH, START, MOVE - ONE_DAY),
        (MORNINGS, MOVE, back - ONE_DAY),
        (NORTH, back, END),
    )
    assert stretches_of(stays, START, END) == ((NORTH, START, END),)


def test_days_away_go_by_the_nearest_building() -> None:
    """A share of a week is one of its days in session, those before the first day at a school included."""
    monday = dt.date(2026, 10, 5)
    days = {monday + dt.timedelta(days=n) for n in range(5)}
    stays = (Stay(NORTH, first=monday + dt.timedelta(days=3)),)
    assert school_days_around(stays, {NORTH: days - {monday}}) == days - {monday}
    assert days_where_the_student_is(stays, {NORTH: days}) == {monday + dt.timedelta(days=n) for n in (3, 4)}
