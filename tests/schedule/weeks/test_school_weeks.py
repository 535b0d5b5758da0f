"""The next full school week."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from schedule.calendar.models import CalendarEntry, SchoolYear
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.school_weeks import next_full_week, next_week_to_plan
from tests.conftest import Cast


@pytest.fixture
def year(cast: Cast) -> SchoolYear:
    """September 8, 2026 (a Tuesday) to June 25, 2027 (a Friday)."""
    return SchoolYear.objects.create(
        district=cast.district, name="2026-27", first_day=dt.date(2026, 9, 8), last_day=dt.date(2027, 6, 25)
    )


def close(cast: Cast, first: dt.date, last: dt.date, kind: str = CalendarEntry.Kind.CLOSED) -> None:
    """An entry of the district's calendar."""
    CalendarEntry.objects.create(district=cast.district, first_date=first, last_date=last, kind=kind)


# Calendar dates of 2026 and 2027; Thanksgiving, the fourth Thursday of November (5 U.S.C. 6103), is November 26.
@pytest.mark.parametrize(
    ("today", "monday"),
    [
        (dt.date(2026, 9, 14), dt.date(2026, 9, 14)),
        (dt.date(2026, 9, 15), dt.date(2026, 9, 21)),
        (dt.date(2026, 11, 23), dt.date(2026, 11, 30)),
        (dt.date(2026, 11, 25), dt.date(2026, 11, 30)),
        (dt.date(2026, 7, 1), dt.date(2026, 9, 14)),
        (dt.date(2027, 6, 21), dt.date(2027, 6, 21)),
        (dt.date(2027, 6, 22), dt.date(2026, 9, 14)),
        (dt.date(2030, 1, 1), dt.date(2026, 9, 14)),
    ],
)
def test_the_week_is_full_and_not_before_today(
    cast: Cast, year: SchoolYear, today: dt.date, monday: dt.date
) -> None:
    close(cast, dt.date(2026, 11, 25), dt.date(2026, 11, 27))
    assert next_full_week(cast.teacher, today) == monday


def test_an_early_dismissal_makes_a_week_less_than_full(cast: Cast, year: SchoolYear) -> None:
    close(cast, dt.date(2026, 9, 18), dt.date(2026, 9, 18), CalendarEntry.Kind.EARLY_DISMISSAL)
    assert next_full_week(cast.teacher, dt.date(2026, 9, 14)) == dt.date(2026, 9, 21)


def test_an_extra_day_leaves_a_week_full(cast: Cast, year: SchoolYear) -> None:
    close(cast, dt.date(2026, 9, 19), dt.date(2026, 9, 19), CalendarEntry.Kind.OPEN)
    assert next_full_week(cast.teacher, dt.date(2026, 9, 14)) == dt.date(2026, 9, 14)


def test_another_districts_calendar_counts_for_nothing(cast: Cast, year: SchoolYear) -> None:
    with pytest.raises(ApplicationError) as refused:
        next_full_week(cast.stranger, dt.date(2026, 9, 14))
    assert refused.value.code == "no_full_week"


def in_force(cast: Cast, monday: dt.date) -> None:
    """A published week without sessions."""
    WeekPlan.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        monday=monday,
        last_date=monday + dt.timedelta(days=6),
        status=WeekPlan.Status.PUBLISHED,
        version=1,
        created_by=cast.teacher,
    )


@pytest.mark.parametrize(
    ("today", "monday"),
    [
        # A Monday counts itself, the days after it the week after.
        (dt.date(2026, 9, 14), dt.date(2026, 9, 14)),
        (dt.date(2026, 9, 16), dt.date(2026, 9, 28)),
        # School begins on a Tuesday; that week counts though its Monday lies before.
        (dt.date(2026, 8, 3), dt.date(2026, 9, 7)),
        # December 21 to January 1 is closed.
        (dt.date(2026, 12, 16), dt.date(2027, 1, 4)),
        # Nothing is known of the time after the year: the coming Monday.
        (dt.date(2027, 7, 1), dt.date(2027, 7, 5)),
    ],
)
def test_the_next_week_to_plan_has_school_and_no_plan(
    cast: Cast, year: SchoolYear, today: dt.date, monday: dt.date
) -> None:
    close(cast, dt.date(2026, 12, 21), dt.date(2027, 1, 1))
    in_force(cast, dt.date(2026, 9, 21))
    assert next_week_to_plan(cast.teacher, cast.teacher, today) == monday
