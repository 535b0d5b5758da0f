"""The periods of a line against the standard library's calendar, and what each of them owes."""

import calendar as gregorian
import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.owed import CountedPeriod, owed_in, periods_of
from caseload.ledger.terms import (
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    LedgerRules,
    ShortWeek,
    Span,
)
from caseload.plans.frequency import Frequency, FrequencyUnit, read_frequency
from tests.caseload.ledger_lines import changed, one_line

YEAR = Span("2011-12", dt.date(2011, 9, 5), dt.date(2012, 6, 22))
WEEKDAYS = frozenset(
    day
    for n in range((YEAR.last - YEAR.first).days + 1)
    if (day := YEAR.first + dt.timedelta(days=n)).weekday() < 5
)
QUARTERS = (
    Span("first quarter", dt.date(2011, 9, 5), dt.date(2011, 11, 11)),
    Span("second quarter", dt.date(2011, 11, 12), dt.date(2012, 1, 27)),
    Span("third quarter", dt.date(2012, 1, 28), dt.date(2012, 6, 22)),
)
CALENDAR = LedgerCalendar(YEAR, WEEKDAYS, marking_periods=QUARTERS, cycles=QUARTERS[1:])
MONDAY = dt.date(2011, 10, 3)


def line(text: str, first: dt.date = YEAR.first, last: dt.date = YEAR.last) -> LedgerLine:
    """A service line written as a plan writes it."""
    return one_line("L", read_frequency(text), first, last)


def spans(one: LedgerLine) -> list[tuple[dt.date, dt.date]]:
    """First and last days of a line's periods."""
    return [(span.first, span.last) for span in periods_of(one, CALENDAR)]


# ---- periods ---------------------------------------------------------------------------------------------


def test_months_are_those_of_the_calendar() -> None:
    """September 2011 to June 2012, a leap February and the turn of the year among them (calendar.monthrange)."""
    months = [(2011, month) for month in range(9, 13)] + [(2012, month) for month in range(1, 7)]
    assert spans(line("90 min/month")) == [
        (dt.date(year, month, 1), dt.date(year, month, gregorian.monthrange(year, month)[1]))
        for year, month in months
    ]


@pytest.mark.parametrize("year", [2023, 2024, 2027, 2100])
def test_february_has_its_own_length(year: int) -> None:
    """Leap years and others, and the century that is none (calendar.monthrange)."""
    first, last = dt.date(year, 2, 1), dt.date(year, 2, gregorian.monthrange(year, 2)[1])
    school = LedgerCalendar(Span("February", first, last), frozenset())
    assert [span.last for span in periods_of(line("90 min/month", first, last), school)] == [last]


def test_weeks_run_from_monday_to_sunday() -> None:
    """ISO 8601 weeks: the 36th of 2011 to the 25th of 2012."""
    mondays = [dt.date.fromisocalendar(2011, week, 1) for week in range(36, 53)]
    mondays += [dt.date.fromisocalendar(2012, week, 1) for week in range(1, 26)]
    assert spans(line("2 x 30 min/week")) == [(day, day + dt.timedelta(days=6)) for day in mondays]


def test_a_week_is_one_of_a_line_that_begins_or_ends_in_it() -> None:
    """From a Sunday to a Monday two weeks are touched, each by one day."""
    sunday = MONDAY - dt.timedelta(days=1)
    found = spans(line("2 x 30 min/week", sunday, MONDAY))
    assert [first for first, _ in found] == [MONDAY - dt.timedelta(days=7), MONDAY]


def test_turns_of_weeks_have_their_length_and_say_so() -> None:
    """Three of four weeks: 28 days from the Monday of the line's own first week."""
    one = line("3 of 4 weeks, 30 min", MONDAY + dt.timedelta(days=2), MONDAY + dt.timedelta(days=40))
    assert spans(one) == [
        (MONDAY + dt.timedelta(days=28 * n), MONDAY + dt.timedelta(days=28 * n + 27)) for n in (0, 1)
    ]
    assert [span.name.split(" ")[:2] for span in periods_of(one, CALENDAR)] == [["4", "weeks"]] * 2
    weekly = changed(one, frequency=read_frequency("1 x 30 min/week"))
    assert periods_of(weekly, CALENDAR)[0].name.startswith("week of")


def test_a_year_is_the_schools_and_a_total_the_services() -> None:
    """The whole service keeps its own first day where counting begins later."""
    one = line("7 x 25 min/year", MONDAY, dt.date(2012, 3, 2))
    assert spans(one) == [(YEAR.first, YEAR.last)]
    whole = changed(one, frequency=read_frequency("7 x 25 min in total"), anchor=dt.date(2011, 9, 12))
    assert spans(whole) == [(dt.date(2011, 9, 12), dt.date(2012, 3, 2))]


def test_marking_periods_and_turns_of_the_rotation_are_the_calendars() -> None:
    """Those that the line touches, by one day if need be; each unit its own."""
    quarters = [(one.first, one.last) for one in QUARTERS]
    assert spans(line("3 x 20 min per marking period")) == quarters
    assert spans(line("3 x 20 min per marking period", dt.date(2011, 11, 11), dt.date(2012, 1, 27))) == quarters[:2]
    assert spans(line("3 x 20 min per marking period", dt.date(2011, 11, 12), dt.date(2012, 1, 28))) == quarters[1:]
    assert spans(line("2 x 20 min per cycle")) == quarters[1:]


@pytest.mark.parametrize(
    ("text", "words"), [("2 x 20 min per cycle", "rotation"), ("20 min quarterly", "marking periods")]
)
def test_a_calendar_without_periods_says_which(text: str, words: str) -> None:
    """The remedy is another for each."""
    with pytest.raises(LedgerError, match=words):
        periods_of(line(text), LedgerCalendar(YEAR, WEEKDAYS))


def test_semesters_and_trimesters_are_the_districts_marking_periods() -> None:
    """Three marking periods are trimesters one by one; of four, two together are a semester."""
    assert spans(line("2 x 30 min/trimester")) == [(one.first, one.last) for one in QUARTERS]
    third, fourth = Span("3", dt.date(2012, 1, 28), dt.date(2012, 4, 6)), Span("4", dt.date(2012, 4, 7), YEAR.last)
    four = LedgerCalendar(YEAR, WEEKDAYS, marking_periods=(*QUARTERS[:2], third, fourth))
    found = periods_of(line("300 min/semester"), four)
    assert [(one.name, one.first, one.last) for one in found] == [
        ("first quarter to second quarter", QUARTERS[0].first, QUARTERS[1].last),
        ("3 to 4", third.first, YEAR.last),
    ]
    assert [owed_in(one, four, LedgerRules(), 0)[0] for one in found] == [300, 300]
    assert len(periods_of(line("300 min/quarter"), four)) == 4


def test_marking_periods_that_make_no_semesters_are_said() -> None:
    with pytest.raises(LedgerError, match="3 marking periods don't make 2 semesters"):
        spans(line("300 min/semester"))


def test_a_period_of_weeks_owes_its_minutes_once() -> None:
    """240 minutes in four weeks, in any of them: 28 days from the Monday of the service's first week."""
    one = line("240 minutes per 4 weeks", MONDAY, MONDAY + dt.timedelta(days=55))
    assert spans(one) == [
        (MONDAY + dt.timedelta(days=28 * n), MONDAY + dt.timedelta(days=28 * n + 27)) for n in (0, 1)
    ]
    assert [owed_in(span, CALENDAR, LedgerRules(), 0)[0] for span in periods_of(one, CALENDAR)] == [240, 240]


def test_nothing_is_counted_outside_the_school_year() -> None:
    """A line before or after it has no period; one that runs past it is cut to it, its last day included."""
    before = line("2 x 30 min/week", dt.date(2011, 8, 1), YEAR.first - dt.timedelta(days=1))
    after = line("2 x 30 min/week", YEAR.last + dt.timedelta(days=1), dt.date(2012, 8, 1))
    assert spans(before) == spans(after) == []
    past = line("2 x 30 min/week", dt.date(2011, 8, 1), dt.date(2012, 8, 1))
    assert spans(past) == spans(line("2 x 30 min/week"))
    last_day = line("2 x 30 min/week", YEAR.last, dt.date(2012, 8, 1))
    assert len(spans(last_day)) == 1


# ---- what a period owes ----------------------------------------------------------------------------------


def counted(one: LedgerLine, span: Span) -> CountedPeriod:
    """A stretch of days as a period of a service."""
    return CountedPeriod(span.name, span.first, span.last, one.terms)


def owed(
    one: LedgerLine, rule: ShortWeek = ShortWeek.WHOLE, closed: frozenset[dt.date] = frozenset(), scheduled: int = 0
) -> int:
    """Minutes owed in the week of 3 October 2011."""
    week = Span("week", MONDAY, MONDAY + dt.timedelta(days=6))
    return owed_in(
        counted(one, week), LedgerCalendar(YEAR, WEEKDAYS - closed), LedgerRules(short_week=rule), scheduled
    )[0]


@pytest.mark.parametrize(
    ("first", "last", "minutes"), [(0, 4, 100), (1, 4, 80), (0, 3, 80), (2, 2, 20), (4, 6, 20), (5, 6, 0)]
)
def test_a_line_owes_its_days_share_of_a_week(first: int, last: int, minutes: int) -> None:
    """100 minutes over five weekdays are 20 for each day in force; a weekend owes nothing."""
    one = line("100 min/week", MONDAY + dt.timedelta(days=first), MONDAY + dt.timedelta(days=last))
    assert owed(one) == minutes


@given(st.integers(1, 300), st.integers(0, 4))
def test_shares_of_a_week_add_up_to_the_week(minutes: int, cut: int) -> None:
    """However the minutes divide, no part differs from its exact share by a minute."""
    whole = line(f"{minutes} min/week", MONDAY, MONDAY + dt.timedelta(days=4))
    parts = [
        changed(whole, last=MONDAY + dt.timedelta(days=cut)),
        changed(whole, first=MONDAY + dt.timedelta(days=cut + 1)),
    ]
    shares = [owed(part) for part in parts]
    assert sum(shares) == minutes
    assert all(abs(share - minutes * days / 5) < 1 for share, days in zip(shares, (cut + 1, 4 - cut), strict=True))


def test_halves_go_up() -> None:
    """Half of one minute, of ten days in force for five, is one (the ledger's own rule)."""
    turn = Span("ten days", MONDAY, MONDAY + dt.timedelta(days=13))
    one = one_line("L", Frequency(minutes_total=1, unit=FrequencyUnit.CYCLE), MONDAY, MONDAY + dt.timedelta(days=4))
    assert owed_in(counted(one, turn), CALENDAR, LedgerRules(), 0)[0] == 1


@pytest.mark.parametrize(
    ("rule", "closed", "minutes"),
    [
        (ShortWeek.WHOLE, 1, 100),
        (ShortWeek.WHOLE, 5, 0),
        (ShortWeek.PROPORTION, 1, 80),
        (ShortWeek.PROPORTION, 5, 0),
        (ShortWeek.WHOLE, 4, 100),
        (ShortWeek.AS_SCHEDULED, 0, 100),
        (ShortWeek.AS_SCHEDULED, 1, 70),
        (ShortWeek.AS_SCHEDULED, 5, 0),
    ],
)
def test_what_a_short_week_owes(rule: ShortWeek, closed: int, minutes: int) -> None:
    """By each of the district's rules; 70 minutes were planned. Without a day in session none owes anything."""
    shut = frozenset(MONDAY + dt.timedelta(days=n) for n in range(closed))
    assert owed(line("100 min/week"), rule, shut, scheduled=70) == minutes


def test_no_more_than_the_whole_is_owed_as_scheduled() -> None:
    """130 minutes were planned where 100 are owed, in a full week and in a short one."""
    for closed in (frozenset[dt.date](), frozenset((MONDAY,))):
        assert owed(line("100 min/week"), ShortWeek.AS_SCHEDULED, closed, scheduled=130) == 100


@pytest.mark.parametrize("rule", ShortWeek)
@pytest.mark.parametrize(("closed", "minutes"), [(0, 150), (1, 120), (5, 0)])
def test_daily_owes_each_day_in_session(rule: ShortWeek, closed: int, minutes: int) -> None:
    """“Daily” says on which days: 30 minutes on each day in session, whatever the rule for short weeks."""
    days = WEEKDAYS - {MONDAY + dt.timedelta(days=n) for n in range(closed)}
    one = line("30 minutes daily")
    week = Span("week", MONDAY, MONDAY + dt.timedelta(days=6))
    owed, why = owed_in(counted(one, week), LedgerCalendar(YEAR, days), LedgerRules(short_week=rule), 0)
    assert owed == minutes
    assert f"{5 - closed} days in session" in why
    assert (week.first, week.last) in spans(one)


def test_a_daily_service_owes_from_its_first_to_its_last_day() -> None:
    one = line("twice a day 10 minutes", MONDAY + dt.timedelta(days=3), MONDAY + dt.timedelta(days=7))
    owed = [owed_in(span, CALENDAR, LedgerRules(), 0)[0] for span in periods_of(one, CALENDAR)]
    assert owed == [40, 20]


def test_any_day_is_a_day_of_the_service() -> None:
    """A line that begins on Thursday, in a week in session until Wednesday, owes nothing of it.

    One that begins on Wednesday owes one of the three days in session, of 100 minutes: 33 (computed).
    """
    shut = frozenset((MONDAY + dt.timedelta(days=3), MONDAY + dt.timedelta(days=4)))
    one = line("100 min/week", MONDAY + dt.timedelta(days=3), YEAR.last)
    assert owed(one, ShortWeek.WHOLE, shut) == 0
    assert owed(changed(one, first=MONDAY + dt.timedelta(days=2)), ShortWeek.WHOLE, shut) == 33
    ends = line("100 min/week", YEAR.first, MONDAY + dt.timedelta(days=1))
    until_wednesday = frozenset((MONDAY, MONDAY + dt.timedelta(days=1)))
    assert owed(ends, ShortWeek.WHOLE, until_wednesday) == 0
    assert owed(ends, ShortWeek.WHOLE, frozenset((MONDAY,))) == 25


@pytest.mark.parametrize("rule", ShortWeek)
def test_rules_for_short_weeks_are_about_weeks(rule: ShortWeek) -> None:
    """A month with holidays, and without a planned session, owes the whole."""
    month = Span("October 2011", dt.date(2011, 10, 1), dt.date(2011, 10, 31))
    calendar = LedgerCalendar(YEAR, WEEKDAYS - {MONDAY})
    assert owed_in(counted(line("90 min/month"), month), calendar, LedgerRules(short_week=rule), 0)[0] == 90


def test_a_period_without_a_weekday_owes_nothing() -> None:
    """A rotation that is said to turn at the weekend."""
    weekend = Span("weekend", MONDAY + dt.timedelta(days=5), MONDAY + dt.timedelta(days=6))
    one = line("2 x 20 min per cycle")
    assert owed_in(counted(one, weekend), CALENDAR, LedgerRules(), 0)[0] == 0


def test_a_frequency_without_minutes_is_asked_for_them() -> None:
    """No length is made up."""
    with pytest.raises(LedgerError, match="how long a session is"):
        owed(line("3 of 4 weeks"))


def test_the_reasoning_names_the_rule_where_it_counts_and_the_days_in_force() -> None:
    """The rule for short weeks only for weeks; days of the service only where it isn't in force on all."""
    week = Span("week", MONDAY, MONDAY + dt.timedelta(days=6))
    rules = LedgerRules(short_week=ShortWeek.PROPORTION)
    whole = owed_in(counted(line("100 min/week"), week), CALENDAR, rules, 0)[1]
    part = owed_in(counted(line("100 min/week", MONDAY + dt.timedelta(days=1)), week), CALENDAR, rules, 0)[1]
    month = owed_in(counted(line("90 min/month"), week), CALENDAR, rules, 0)[1]
    assert ["district rule" in text for text in (whole, part, month)] == [True, True, False]
    assert "in force on 4 of 5" in part
    assert ["in force" in text for text in (whole, part)] == [False, True]
    assert all("5 of 5 days in session" in text for text in (whole, part, month))
