"""The first week that is ever planned owes its share of a period, not all that was served before it."""

import datetime as dt

import pytest

from caseload.plans.frequency import read_frequency
from caseload.plans.models import ServiceLine
from schedule.calendar.models import SchoolYear
from schedule.weeks.planning.quotas import Owed, Periods, owed_in_week
from tests.conftest import Cast

MONDAY = dt.date(2026, 11, 30)
FIRST_DAY = dt.date(2026, 9, 8)


@pytest.fixture
def periods(cast: Cast) -> Periods:
    """Monday to Friday from September 8 to December 18, 2026, without the week of November 23's last three days."""
    year = SchoolYear(district=cast.district, name="2026-27", first_day=FIRST_DAY, last_day=dt.date(2026, 12, 18))
    every = (FIRST_DAY + dt.timedelta(days=n) for n in range(102))
    closed = {dt.date(2026, 11, 25), dt.date(2026, 11, 26), dt.date(2026, 11, 27)}
    return Periods(year, (), tuple(day for day in every if day.weekday() < 5 and day not in closed), ())


def owed(
    line: ServiceLine, statement: str, periods: Periods, known_from: dt.date, placed: list[tuple[dt.date, int]]
) -> Owed:
    """What the week of Monday, November 30, 2026 owes on a line with this statement."""
    frequency = read_frequency(statement)
    line.times, line.minutes, line.minutes_total = frequency.times, frequency.minutes, frequency.minutes_total
    line.unit, line.statement = frequency.unit.value, statement
    return owed_in_week(line, MONDAY, periods, placed, known_from)


# By hand: November has 18 school days here, one of them in this week; December has 14, four of them in this week.
@pytest.mark.parametrize(
    ("statement", "sessions"),
    [
        # November's share 6 x 1/18, nearest 0; December 6 x 4/14 = 1.7, so 2.
        ("six times per month for 20 minutes", 2),
        # 3 sessions of 30 a month: 3 x 1/18, nearest 0; 3 x 4/14 = 0.9, so 1.
        ("90 min/month", 1),
        ("15 minutes once monthly", 1),
        # A week is never cut.
        ("2 x 30 min/week", 2),
    ],
)
def test_the_first_week_owes_its_share(cast: Cast, periods: Periods, statement: str, sessions: int) -> None:
    assert owed(cast.line, statement, periods, MONDAY, []).sessions == sessions


def test_what_earlier_planned_weeks_left_over_is_still_owed(cast: Cast, periods: Periods) -> None:
    # Planned since September, nothing placed in November: its last day owes all 6; December's share is 2.
    assert owed(cast.line, "six times per month for 20 minutes", periods, FIRST_DAY, []).sessions == 8


def test_the_reason_says_from_when_on_it_counts(cast: Cast, periods: Periods) -> None:
    # Planned since Monday, November 16: 8 of November's 18 days are known, so 6 x 8/18 = 2.7, nearest 3, are owed;
    # one of them was placed.
    since = dt.date(2026, 11, 16)
    found = owed(cast.line, "six times per month for 20 minutes", periods, since, [(since, 20)])
    assert found.sessions == (3 - 1) + 2
    assert "before 2026-11-16" in found.reason


@pytest.mark.parametrize(
    ("statement", "sessions", "minutes"),
    # By hand: four of 25 are exact; 101 is prime, so three of 33 leave two minutes.
    [("100 min/week", 4, 25), ("101 min/week", 3, 33)],
)
def test_never_more_minutes_than_owed(
    cast: Cast, periods: Periods, statement: str, sessions: int, minutes: int
) -> None:
    frequency = read_frequency(statement)
    line = cast.line
    line.times, line.minutes, line.minutes_total = None, 45, frequency.minutes_total
    found = owed_in_week(line, MONDAY, periods, [], MONDAY)
    assert (found.sessions, found.minutes) == (sessions, minutes)
    assert ("2 of these minutes are left" in found.reason) is (minutes == 33)


# By hand: November has 18 school days here, one of them in this week, December 14; published since September.
@pytest.mark.parametrize(
    ("placed", "held", "sessions"),
    [
        # The even pace puts 1 of 3 here; two stand here and the period still owes them.
        ([], [dt.date(2026, 12, 1), dt.date(2026, 12, 2)], 2),
        # Two of the three stand in later weeks, so only one of these two is still owed.
        ([(dt.date(2026, 12, 8), 30), (dt.date(2026, 12, 9), 30)], [dt.date(2026, 12, 1), dt.date(2026, 12, 2)], 1),
        # All three stand elsewhere.
        ([(dt.date(2026, 12, day), 30) for day in (8, 9, 10)], [dt.date(2026, 12, 1)], 0),
        ([], [], 1),
    ],
)
def test_what_a_week_holds_of_a_month_stays_as_far_as_it_is_owed(
    cast: Cast, periods: Periods, placed: list[tuple[dt.date, int]], held: list[dt.date], sessions: int
) -> None:
    line = cast.line
    line.times, line.minutes, line.unit, line.statement = 3, 30, "month", "3 x 30 min/month"
    november = [(dt.date(2026, 11, day), 30) for day in (2, 9, 16)]
    found = owed_in_week(line, MONDAY, periods, [*november, *placed], FIRST_DAY, held=held)
    assert found.sessions == sessions
