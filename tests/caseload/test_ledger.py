"""The minutes ledger against published cases and against properties that must hold whatever the numbers."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    LedgerRules,
    SessionRecord,
    ShortWeek,
    Span,
)
from caseload.plans.frequency import Frequency, FrequencyUnit, read_frequency
from tests.caseload.ledger_lines import changed, one_line

YEAR = Span("2011-12", dt.date(2011, 9, 5), dt.date(2012, 6, 22))


def weekdays(first: dt.date, last: dt.date) -> list[dt.date]:
    """Monday to Friday, both ends included."""
    days = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    return [day for day in days if day.weekday() < 5]


def calendar(*closed: dt.date, year: Span = YEAR) -> LedgerCalendar:
    """A school year with some days closed."""
    return LedgerCalendar(year, frozenset(weekdays(year.first, year.last)) - frozenset(closed))


def line(text: str, first: dt.date = YEAR.first, last: dt.date = YEAR.last) -> LedgerLine:
    """A service line written as a plan writes it."""
    return one_line("L", read_frequency(text), first, last)


def week_owed(one: LedgerLine, monday: dt.date, rules: LedgerRules, *closed: dt.date) -> int:
    """Minutes owed in the week of a Monday."""
    ledger = build_ledger(one, calendar(*closed), rules, [], YEAR.last)
    return sum(period.owed for period in ledger.periods if period.span.first == monday)


def test_a_dated_change_in_two_settings() -> None:
    """A published decision: 3 x 20 a week to December 1, 2011, then 1 x 20 a week in each of two settings.

    The week of December 5, 2011 owes 40 minutes (computed from the decision's own dates).
    """
    before = line("3 x 20 min/week", dt.date(2011, 9, 5), dt.date(2011, 12, 1))
    one = line("1 x 20 min/week", dt.date(2011, 12, 2), dt.date(2012, 3, 1))
    other = line("1 x 20 min/week", dt.date(2011, 12, 2), dt.date(2012, 5, 1))
    monday = dt.date(2011, 12, 5)
    owed = [week_owed(each, monday, LedgerRules()) for each in (before, one, other)]
    assert owed == [0, 20, 20]
    assert week_owed(before, dt.date(2011, 11, 21), LedgerRules()) == 60


@pytest.mark.parametrize(("closed", "minutes"), [(0, 150), (1, 120), (2, 90)])
def test_new_jersey_owes_proportionately_less(closed: int, minutes: int) -> None:
    """N.J.S.A. 18A:35-8: 2.5 hours a week, proportionately less when holidays fall within the week."""
    rules = LedgerRules(short_week=ShortWeek.PROPORTION)
    holidays = [dt.date(2011, 10, 3) + dt.timedelta(days=n) for n in range(closed)]
    assert week_owed(line("150 min/week"), dt.date(2011, 10, 3), rules, *holidays) == minutes


def test_new_york_owes_its_week_whole() -> None:
    """8 NYCRR 135.4: at least 120 minutes a calendar week; the rule "whole" keeps them in a four-day week."""
    monday = dt.date(2011, 10, 10)
    rules = LedgerRules(short_week=ShortWeek.WHOLE)
    assert week_owed(line("120 min/week"), monday, rules, monday) == 120


def test_any_day_owes_the_whole_week_or_nothing() -> None:
    """Whole if one day is in session, nothing in a week without one."""
    monday = dt.date(2011, 11, 21)
    week = [monday + dt.timedelta(days=n) for n in range(5)]
    rules = LedgerRules(short_week=ShortWeek.WHOLE)
    assert week_owed(line("2 x 30 min/week"), monday, rules, *week[:4]) == 60
    assert week_owed(line("2 x 30 min/week"), monday, rules, *week) == 0


def test_as_scheduled_owes_what_was_planned() -> None:
    """A Monday lesson in a week whose Monday is closed was never planned, so only the other one is owed.

    23 Ill. Adm. Code 1.425(b): what falls on a day of no attendance need not be made up.
    """
    rules = LedgerRules(short_week=ShortWeek.AS_SCHEDULED)
    sessions = [SessionRecord("a", dt.date(2011, 10, 12), 30)]
    as_of, monday = dt.date(2011, 10, 14), dt.date(2011, 10, 10)
    short = build_ledger(line("2 x 30 min/week"), calendar(monday), rules, sessions, as_of)
    full = build_ledger(line("2 x 30 min/week"), calendar(), rules, sessions, as_of)
    assert [short.periods[-1].owed, full.periods[-1].owed] == [30, 60]


def test_california_counts_ten_school_days() -> None:
    """Education Code 51210: grades 1-6, 200 minutes each 10 school days, here as turns of a 10-day cycle."""
    days = weekdays(dt.date(2011, 9, 5), dt.date(2011, 9, 30))
    turns = (Span("first ten", days[0], days[9]), Span("second ten", days[10], days[19]))
    one = one_line("L", Frequency(minutes_total=200, unit=FrequencyUnit.CYCLE, cycle_days=10), days[0], days[19])
    ledger = build_ledger(one, replace(calendar(), cycles=turns), LedgerRules(), [], days[19])
    assert [period.owed for period in ledger.periods] == [200, 200]


def test_a_cycle_without_turns_says_what_is_missing() -> None:
    """The message names the remedy."""
    with pytest.raises(LedgerError, match="cycles of the rotation"):
        build_ledger(line("1 x 45 min/6-day cycle"), calendar(), LedgerRules(), [], YEAR.last)


@pytest.mark.parametrize(
    ("effect", "still_owed", "undecided"), [(Effect.OWED, 30, 0), (Effect.NOT_OWED, 0, 0), (Effect.TEAM, 0, 30)]
)
def test_what_a_reason_does(effect: Effect, still_owed: int, undecided: int) -> None:
    """OSEP Letter to Clarke (2007): case by case, so the district's table decides and the team may."""
    sessions = [
        SessionRecord("a", dt.date(2011, 10, 4), 30, delivered=30),
        SessionRecord("b", dt.date(2011, 10, 6), 30, delivered=0, reason="student_absent"),
    ]
    rules = LedgerRules(effects={"student_absent": effect})
    one = line("2 x 30 min/week", dt.date(2011, 10, 3), dt.date(2011, 10, 7))
    week = build_ledger(one, calendar(), rules, sessions, dt.date(2011, 10, 8)).periods[0]
    assert (week.still_owed, week.undecided, week.missed) == (still_owed, undecided, {"student_absent": 30})


def test_the_teams_decision_wins_over_the_table() -> None:
    """Once decided, the minutes are owed or not, whatever the table says."""
    missed = SessionRecord("b", dt.date(2011, 10, 6), 30, delivered=0, reason="other", decision=Effect.OWED)
    assert missed.effect(LedgerRules(effects={"other": Effect.NOT_OWED})) is Effect.OWED


def test_a_tuesday_lesson_is_not_behind_on_monday() -> None:
    """In the running week only what was planned up to today is due."""
    sessions = [SessionRecord("a", dt.date(2011, 10, 4), 30), SessionRecord("b", dt.date(2011, 10, 6), 30)]
    one = line("2 x 30 min/week", dt.date(2011, 10, 3))
    due = [
        build_ledger(one, calendar(), LedgerRules(), sessions, dt.date(2011, 10, day)).periods[0].due
        for day in (3, 4, 6, 9)
    ]
    assert due == [0, 30, 60, 60]


def test_make_ups_go_to_the_oldest_shortfall() -> None:
    """45 made-up minutes fill the first week's 30 and half of the second's."""
    make_up = SessionRecord("m", dt.date(2011, 10, 17), 45, delivered=45, makes_up=True)
    one = line("1 x 30 min/week", dt.date(2011, 10, 3), dt.date(2011, 10, 14))
    ledger = build_ledger(one, calendar(), LedgerRules(), [make_up], dt.date(2011, 10, 18))
    assert [(week.made_up, week.still_owed) for week in ledger.periods] == [(30, 0), (15, 15)]


def test_minutes_above_are_shown_and_carried_only_by_choice() -> None:
    """A 60-minute session where 30 were owed doesn't pay the next week unless the district says so.

    What was carried isn't ahead any more.
    """
    sessions = [SessionRecord("a", dt.date(2011, 10, 4), 30, delivered=60)]
    one = line("1 x 30 min/week", dt.date(2011, 10, 3), dt.date(2011, 10, 14))
    asked = [
        [
            (week.ahead, week.still_owed)
            for week in build_ledger(
                one, calendar(), LedgerRules(carry_ahead=carry), sessions, dt.date(2011, 10, 14)
            ).periods
        ]
        for carry in (False, True)
    ]
    assert asked == [[(30, 0), (0, 30)], [(0, 0), (0, 0)]]


def test_a_leap_day_and_the_year_end_lie_in_their_weeks() -> None:
    """February 29, 2012 was a Wednesday; the week of December 26, 2011 runs into 2012."""
    ledger = build_ledger(line("5 x 10 min/week"), calendar(), LedgerRules(), [], YEAR.last)
    leap = next(period for period in ledger.periods if dt.date(2012, 2, 29) in period.span)
    turn = next(period for period in ledger.periods if dt.date(2012, 1, 1) in period.span)
    assert (leap.span.first, leap.owed) == (dt.date(2012, 2, 27), 50)
    assert turn.span.first == dt.date(2011, 12, 26)


SESSIONS = st.lists(
    st.builds(
        lambda at, minutes, delivered, reason, makes_up: (at, minutes, delivered, reason, makes_up),
        st.integers(0, 39),
        st.integers(5, 60),
        st.none() | st.integers(0, 75),
        st.sampled_from(["student_absent", "no_space", "other"]),
        st.booleans(),
    ),
    max_size=25,
)
RULES = st.builds(
    LedgerRules,
    short_week=st.sampled_from(ShortWeek),
    effects=st.fixed_dictionaries({"student_absent": st.sampled_from(Effect), "no_space": st.sampled_from(Effect)}),
    carry_ahead=st.booleans(),
)
DAYS = weekdays(dt.date(2011, 10, 3), dt.date(2011, 11, 25))


def records(raw: list[tuple[int, int, int | None, str, bool]]) -> list[SessionRecord]:
    """Sessions on weekdays of eight weeks."""
    return [
        SessionRecord(str(n), DAYS[at], minutes, delivered, reason, makes_up=makes_up)
        for n, (at, minutes, delivered, reason, makes_up) in enumerate(raw)
    ]


def build(raw: list[SessionRecord], rules: LedgerRules, as_of: dt.date) -> Ledger:
    """The ledger of a two-a-week line over those weeks."""
    return build_ledger(line("2 x 30 min/week", DAYS[0], DAYS[-1]), calendar(DAYS[7], DAYS[8]), rules, raw, as_of)


@given(SESSIONS, RULES, st.sampled_from(DAYS))
def test_every_scheduled_minute_is_somewhere(
    raw: list[tuple[int, int, int | None, str, bool]], rules: LedgerRules, as_of: dt.date
) -> None:
    """Delivered within plan + missed + unlogged + future = scheduled, in every period."""
    for week in build(records(raw), rules, as_of).periods:
        within = week.delivered - week.extra
        assert within + sum(week.missed.values()) + week.unlogged + week.future == week.scheduled


@given(SESSIONS, RULES, st.randoms(use_true_random=False))
def test_the_order_of_logging_does_not_matter(
    raw: list[tuple[int, int, int | None, str, bool]], rules: LedgerRules, random: object
) -> None:
    """The same records in any order give the same ledger."""
    sessions = records(raw)
    shuffled = sorted(sessions, key=lambda one: hash((one.id, str(random))))
    assert build(sessions, rules, DAYS[-1]) == build(shuffled, rules, DAYS[-1])


@given(SESSIONS, RULES)
def test_a_correction_and_its_reversal_change_nothing(
    raw: list[tuple[int, int, int | None, str, bool]], rules: LedgerRules
) -> None:
    """Replacing a record by another and back gives the first ledger."""
    sessions = records(raw)
    corrected = [replace(one, delivered=0, reason="other") for one in sessions]
    restored = [
        replace(new, delivered=old.delivered, reason=old.reason)
        for new, old in zip(corrected, sessions, strict=True)
    ]
    assert build(restored, rules, DAYS[-1]) == build(sessions, rules, DAYS[-1])


@given(
    st.sampled_from(DAYS),
    st.sampled_from([ShortWeek.WHOLE, ShortWeek.PROPORTION]),
    st.sampled_from(["3 x 20 min/week", "90 min/month", "7 x 25 min/year", "50 min/week"]),
)
def test_splitting_a_line_in_two_and_adding_gives_the_whole(cut: dt.date, rule: ShortWeek, text: str) -> None:
    """A plan that is renewed unchanged in the middle of a period owes neither more nor less."""
    rules = LedgerRules(short_week=rule)
    whole = line(text, DAYS[0], DAYS[-1])
    parts = [changed(whole, last=cut), changed(whole, first=cut + dt.timedelta(days=1))]
    school = calendar(DAYS[7], DAYS[8])
    sums = [
        sum(build_ledger(part, school, rules, [], YEAR.last).total("owed") for part in each)
        for each in ([whole], [part for part in parts if part.first <= part.last])
    ]
    assert sums[0] == sums[1]
