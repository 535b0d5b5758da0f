"""What is needed and planned until a date, against sums by hand."""

import datetime as dt

import pytest

from caseload.ledger.ledger import build_ledger
from caseload.ledger.outlook import history_of, needed_until, outlook, sessions_ahead, shortages
from caseload.ledger.rates import Chance, RateBelief, SessionHistory
from caseload.ledger.terms import Effect, LedgerCalendar, LedgerRules, SessionRecord, ShortWeek, Span
from caseload.plans.frequency import Frequency, FrequencyUnit
from tests.caseload.ledger_lines import one_line

MONDAY = dt.date(2026, 9, 14)
RULES = LedgerRules(effects={"trip": Effect.OWED, "ill": Effect.NOT_OWED})
WHOLE = LedgerRules(ShortWeek.WHOLE, {"trip": Effect.OWED})
WEEKLY = Frequency(times=2, minutes=30, unit=FrequencyUnit.WEEK)


def day(offset: int) -> dt.date:
    """A date counted from the first Monday."""
    return MONDAY + dt.timedelta(days=offset)


LAST = day(27)
SCHOOL = LedgerCalendar(
    Span("2026-27", MONDAY, day(200)), frozenset(day(n) for n in range(200) if day(n).weekday() < 5)
)


def held(offset: int, delivered: int | None = None, reason: str = "", minutes: int = 30) -> SessionRecord:
    """A session, by default waiting for its log."""
    return SessionRecord(f"s{offset}", day(offset), minutes, delivered, reason)


def test_needed_is_what_is_behind_and_all_that_comes() -> None:
    """Four weeks of 60: 30 of the first were missed and stay owed, so 30 + 3 x 60 = 210 minutes are needed."""
    sessions = [held(0, 30), held(2, 0, "trip")]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, RULES, sessions, day(6))
    assert needed_until(ledger, SCHOOL, RULES, LAST) == 210
    assert needed_until(ledger, SCHOOL, RULES, day(13)) == 90


def test_what_is_not_owed_is_not_needed() -> None:
    """60 less 30 delivered less 30 not owed: only the later weeks are left."""
    sessions = [held(0, 30), held(2, 0, "ill")]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, RULES, sessions, day(6))
    assert needed_until(ledger, SCHOOL, RULES, LAST) == 180


def test_weeks_without_a_plan_repeat_the_fullest_one_in_force() -> None:
    """Published: a whole week and a short one. The two weeks after them get two sessions each."""
    sessions = [held(0, 30), held(2, 30), held(7)]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, RULES, sessions, day(6))
    ahead = sessions_ahead(ledger, SCHOOL, sessions, {MONDAY, day(7)}, LAST, 30)
    assert [one.day for one in ahead] == [day(7), day(14), day(16), day(21), day(23)]


def test_a_closed_day_holds_no_session_ahead() -> None:
    """The calendar that is left counts."""
    closed = LedgerCalendar(SCHOOL.year, SCHOOL.in_session - {day(14)})
    sessions = [held(0, 30), held(2, 30)]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), closed, RULES, sessions, day(6))
    ahead = sessions_ahead(ledger, closed, sessions, {MONDAY}, LAST, 30)
    assert day(14) not in {one.day for one in ahead}
    assert len(ahead) == 5


def test_a_monthly_service_gets_what_its_months_owe() -> None:
    """20 minutes one time per month (a published handbook's phrase): September to December, one each."""
    monthly = one_line(
        "1", Frequency(times=1, minutes=20, unit=FrequencyUnit.MONTH), dt.date(2026, 10, 1), dt.date(2026, 12, 31)
    )
    ledger = build_ledger(monthly, SCHOOL, RULES, [], dt.date(2026, 10, 2))
    ahead = sessions_ahead(ledger, SCHOOL, [], {dt.date(2026, 9, 28)}, monthly.last, 20)
    assert [(one.day.month, one.minutes) for one in ahead] == [(10, 20), (11, 20), (12, 20)]


def test_the_outlook_joins_both() -> None:
    """Nothing planned beyond what is needed, and a perfect run would just do: it ends short with 1 - 0.9^6."""
    sessions = [held(0, 30), held(2, 30)]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, RULES, sessions, day(6))
    seen = outlook(
        name="the end of the service",
        until=LAST,
        ledger=ledger,
        calendar=SCHOOL,
        rules=RULES,
        sessions=sessions,
        published={MONDAY},
        usual=30,
        belief=RateBelief((Chance(0.1, 0.0, 1.0),)),
    )
    assert (seen.forecast.needed, seen.forecast.planned, seen.forecast.gap) == (180, 180, 0)
    assert seen.forecast.ends_short == pytest.approx(1 - 0.9**6)
    assert seen.is_doubtful


def test_history_counts_what_makes_anybody_end_short() -> None:
    """Missed for a trip counts; ill (not owed here), half delivered, make-ups and what isn't logged don't."""
    make_up = SessionRecord("m", day(4), 30, 0, "trip", None, makes_up=True)
    sessions = [held(0, 30), held(1, 0, "trip"), held(2, 0, "ill"), held(3, 15, "trip"), held(7), make_up]
    assert history_of(sessions, RULES) == SessionHistory((False, True, False, False))


def test_history_stands_in_the_order_of_its_days() -> None:
    """However the sessions come: what followed what is part of it."""
    sessions = [held(3, 0, "trip"), held(1, 30), held(2, 0, "trip")]
    assert history_of(sessions, RULES) == SessionHistory((False, True, True))


def test_a_gap_lies_in_the_week_with_a_closed_day() -> None:
    """Mondays and Wednesdays; one Monday is closed and the whole week owed: 30 minutes short, by that day."""
    closed = LedgerCalendar(SCHOOL.year, SCHOOL.in_session - {day(14)})
    sessions = [held(0, 30), held(2, 30)]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), closed, WHOLE, sessions, day(6))
    ahead = sessions_ahead(ledger, closed, sessions, {MONDAY}, LAST, 30)
    [short] = shortages(ledger, closed, WHOLE, LAST, ahead, {0, 2})
    assert (short.span.first, short.minutes, short.closed) == (day(14), 30, (day(14),))
    [other] = shortages(ledger, closed, WHOLE, LAST, ahead, {2, 3})
    assert other.closed == ()


def test_what_is_over_is_no_shortage_ahead() -> None:
    """30 missed in the first week are behind; the three weeks after it hold all that they owe."""
    sessions = [held(0, 30), held(2, 0, "trip")]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, WHOLE, sessions, day(6))
    ahead = sessions_ahead(ledger, SCHOOL, sessions, {MONDAY}, LAST, 30)
    assert shortages(ledger, SCHOOL, WHOLE, LAST, ahead, {0, 2}) == ()
    assert shortages(ledger, SCHOOL, WHOLE, day(13), (), {0, 2})[0].minutes == 60


def test_no_session_is_held_while_the_teacher_is_away() -> None:
    """Mondays and Wednesdays; away on a Wednesday of a published week and on one after that: 60 short, and why.

    What was planned on a day that is over waits for its log as ever.
    """
    sessions = [held(0, 30), held(2), held(7), held(9)]
    ledger = build_ledger(one_line("1", WEEKLY, MONDAY, LAST), SCHOOL, WHOLE, sessions, day(6))
    away = {day(2), day(9), day(16)}
    ahead = sessions_ahead(ledger, SCHOOL, sessions, {MONDAY, day(7)}, LAST, 30, away)
    assert [one.day for one in ahead] == [day(2), day(7), day(14), day(21), day(23)]
    short = shortages(ledger, SCHOOL, WHOLE, LAST, ahead, {0, 2}, away)
    assert [(one.minutes, one.closed, one.away) for one in short] == [(30, (), (day(9),)), (30, (), (day(16),))]


def test_a_monthly_service_is_given_on_the_days_that_are_left() -> None:
    """Two sessions a month; of its days to come the teacher is there on one."""
    monthly = Frequency(times=2, minutes=30, unit=FrequencyUnit.MONTH)
    ledger = build_ledger(one_line("1", monthly, MONDAY, day(16)), SCHOOL, WHOLE, [], day(0))
    away = {day(n) for n in range(8, 17)} - {day(14)}
    ahead = sessions_ahead(ledger, SCHOOL, [], {MONDAY}, day(16), 30, away)
    assert {one.day for one in ahead} <= {day(7), day(14)}
