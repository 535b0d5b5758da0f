"""Accounts of single sessions and weeks, each minute in its place, on both sides of each edge. By hand."""

import datetime as dt

import pytest

from caseload.ledger.figures import figures_of
from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Effect,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    LedgerRules,
    PeriodAccount,
    SessionRecord,
    Span,
)
from caseload.plans.frequency import read_frequency
from tests.caseload.ledger_lines import one_line

YEAR = Span("2011-12", dt.date(2011, 9, 5), dt.date(2012, 6, 22))
WEEKDAYS = frozenset(
    day
    for n in range((YEAR.last - YEAR.first).days + 1)
    if (day := YEAR.first + dt.timedelta(days=n)).weekday() < 5
)
CALENDAR = LedgerCalendar(YEAR, WEEKDAYS)
MONDAY = dt.date(2011, 10, 3)


def line(text: str, first: dt.date = YEAR.first, last: dt.date = YEAR.last) -> LedgerLine:
    """A service line written as a plan writes it."""
    return one_line("L", read_frequency(text), first, last)


def test_impossible_records_are_refused() -> None:
    """Minutes below nought, and a decision that leaves it to the team; nought itself is possible."""
    for minutes, delivered in ((-1, None), (30, -1)):
        with pytest.raises(LedgerError, match="negative"):
            SessionRecord("a", MONDAY, minutes, delivered)
    with pytest.raises(LedgerError, match="owed or not owed"):
        SessionRecord("a", MONDAY, 30, 0, decision=Effect.TEAM)
    assert SessionRecord("a", MONDAY, 0, 0, decision=Effect.OWED).missed == 0


def test_a_line_is_direct_service_of_a_plan_in_force_unless_it_says_otherwise() -> None:
    """Consultation and provisional plans are told apart on pages and in reports."""
    assert not line("2 x 30 min/week").consultation
    assert not line("2 x 30 min/week").provisional


@pytest.mark.parametrize(("delivered", "missed"), [(None, 0), (0, 30), (29, 1), (30, 0), (45, 0)])
def test_missed_is_what_a_log_says_was_not_delivered(delivered: int | None, missed: int) -> None:
    """Of thirty planned minutes."""
    assert SessionRecord("a", MONDAY, 30, delivered).missed == missed
    assert SessionRecord("a", MONDAY, 0).extra == 0


def test_a_reason_that_the_table_does_not_hold_is_left_to_the_team() -> None:
    """No effect is guessed."""
    record = SessionRecord("a", MONDAY, 30, 0, "unheard of")
    assert record.effect(LedgerRules(effects={"other": Effect.OWED})) is Effect.TEAM


@pytest.mark.parametrize(("day", "inside"), [(-1, False), (0, True), (6, True), (7, False)])
def test_a_span_holds_both_its_ends(day: int, inside: bool) -> None:
    """A week from Monday to Sunday; what is no date lies in no span."""
    span = Span("week", MONDAY, MONDAY + dt.timedelta(days=6))
    assert ((MONDAY + dt.timedelta(days=day)) in span) is inside
    assert "Monday" not in span


def week(sessions: list[SessionRecord], as_of: dt.date, rules: LedgerRules | None = None) -> PeriodAccount:
    """The account of a line of 2 x 30 minutes in the one week of 3 October 2011."""
    one = line("2 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=4))
    return build_ledger(one, CALENDAR, rules or LedgerRules(), sessions, as_of).periods[0]


def test_each_minute_of_a_week_has_its_place() -> None:
    """On Wednesday: 20 of Monday's 30 delivered, Tuesday's not logged, 40 for that day's 30, Friday to come."""
    days = [MONDAY + dt.timedelta(days=n) for n in range(5)]
    sessions = [
        SessionRecord("mon", days[0], 30, 20, "testing"),
        SessionRecord("tue", days[1], 30),
        SessionRecord("wed", days[2], 30, 40),
        SessionRecord("wed-2", days[2], 15),
        SessionRecord("fri", days[4], 25),
    ]
    found = week(sessions, days[2], LedgerRules(effects={"testing": Effect.NOT_OWED}))
    assert (found.scheduled, found.delivered, found.extra) == (130, 60, 10)
    assert (found.missed, found.not_owed, found.undecided) == ({"testing": 10}, 10, 0)
    assert (found.unlogged, found.future) == (45, 25)


def test_up_to_a_date_nothing_after_it_is_known() -> None:
    """Of 60 minutes of which 30 were given on Friday, a report up to Wednesday knows those to come alone."""
    friday, wednesday = MONDAY + dt.timedelta(days=4), MONDAY + dt.timedelta(days=2)
    for told in (SessionRecord("fri", friday, 30, 30), SessionRecord("fri", friday, 30, 0, "testing")):
        found = week([told], wednesday)
        assert (found.due, found.delivered, found.missed, found.future) == (0, 0, {}, 30)
        assert week([told], friday).delivered == told.delivered


@pytest.mark.parametrize(("day", "due", "running"), [(3, 30, True), (4, 60, False), (6, 60, False)])
def test_a_period_is_over_with_the_lines_last_day(day: int, due: int, running: bool) -> None:
    """Due whole from Friday on, the line's last day; on Thursday only what was planned. The reasoning says so."""
    found = week([SessionRecord("mon", MONDAY, 30)], MONDAY + dt.timedelta(days=day))
    assert found.due == due
    assert any("isn't over" in text for text in found.reasoning) is running


def test_a_period_is_over_with_the_school_year() -> None:
    """The last week ends on Friday 22 June with the year, though the line goes on."""
    one = line("2 x 30 min/week", dt.date(2012, 6, 18), dt.date(2012, 8, 1))
    dues = [
        build_ledger(one, CALENDAR, LedgerRules(), [], dt.date(2012, 6, day)).periods[0].due for day in (21, 22)
    ]
    assert dues == [0, 60]


def test_the_teams_minutes_are_spoken_of_only_where_there_are_some() -> None:
    """And a reason without words by its code; one without either is said to be missing."""
    told = [
        " ".join(week([SessionRecord("mon", MONDAY, 30, 0, reason)], MONDAY, rules).reasoning)
        for reason, rules in (
            ("other", LedgerRules(effects={"other": Effect.OWED})),
            ("other", LedgerRules(effects={"other": Effect.TEAM})),
            ("", LedgerRules(effects={"": Effect.OWED})),
        )
    ]
    assert ["team" in text for text in told] == [False, True, False]
    assert "30 minutes missed: other." in told[0]
    assert "no reason given" in told[2]


def test_reasons_stand_in_the_order_of_their_codes() -> None:
    """Not in that of the days, so that two weeks can be compared line by line."""
    sessions = [
        SessionRecord("a", MONDAY, 30, 0, "testing"),
        SessionRecord("b", MONDAY + dt.timedelta(days=1), 30, 10, "no_space"),
    ]
    told = " ".join(week(sessions, MONDAY + dt.timedelta(days=6)).reasoning)
    assert told.index("20 minutes missed: no_space") < told.index("30 minutes missed: testing")


def test_periods_that_have_not_begun_have_no_account() -> None:
    """On Sunday one week has an account, on Monday two; a session of next week is no error before."""
    one = line("1 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=13))
    later = [SessionRecord("next", MONDAY + dt.timedelta(days=8), 30)]
    counts = [
        len(build_ledger(one, CALENDAR, LedgerRules(), later, MONDAY + dt.timedelta(days=day)).periods)
        for day in (6, 7)
    ]
    assert counts == [1, 2]


def test_a_session_outside_every_period_is_an_error() -> None:
    """No minute is lost silently."""
    one = line("1 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=6))
    with pytest.raises(LedgerError, match="outside"):
        build_ledger(
            one, CALENDAR, LedgerRules(), [SessionRecord("a", MONDAY - dt.timedelta(days=1), 30)], YEAR.last
        )


def test_make_ups_count_from_their_day_and_beyond_every_shortfall_they_are_spare() -> None:
    """45 minutes on the 17th for one week that lacks 30; one that isn't logged yet gives nothing."""
    one = line("1 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=6))
    on = dt.date(2011, 10, 17)
    make_ups = [
        SessionRecord("m", on, 45, 45, makes_up=True),
        SessionRecord("n", on, 30, makes_up=True),
    ]
    found = [
        build_ledger(one, CALENDAR, LedgerRules(), make_ups, as_of) for as_of in (on - dt.timedelta(days=1), on)
    ]
    assert [(each.total("made_up"), each.spare_make_up) for each in found] == [(0, 0), (30, 15)]
    reasonings = [" ".join(each.periods[0].reasoning) for each in found]
    assert ["made up" in text for text in reasonings] == [False, True]


def test_minutes_ahead_are_carried_to_the_oldest_shortfall_once() -> None:
    """30 above in the second week fill the first week's 30, and none of the third's."""
    one = line("1 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=18))
    sessions = [SessionRecord("two", MONDAY + dt.timedelta(days=8), 30, 60)]
    rules = LedgerRules(carry_ahead=True)
    found = build_ledger(one, CALENDAR, rules, sessions, MONDAY + dt.timedelta(days=20))
    assert [(each.carried, each.still_owed) for each in found.periods] == [(30, 0), (0, 0), (0, 30)]
    without_a_choice = build_ledger(one, CALENDAR, LedgerRules(), sessions, MONDAY + dt.timedelta(days=20))
    assert without_a_choice.total("carried") == 0


def test_missed_minutes_of_one_reason_add_up_over_the_periods() -> None:
    """Ten in one week and twenty in the next; each reason by itself."""
    one = line("1 x 30 min/week", MONDAY, MONDAY + dt.timedelta(days=13))
    sessions = [
        SessionRecord("a", MONDAY, 30, 20, "testing"),
        SessionRecord("b", MONDAY + dt.timedelta(days=7), 30, 10, "testing"),
        SessionRecord("c", MONDAY + dt.timedelta(days=8), 30, 25, "no_space"),
    ]
    found = build_ledger(one, CALENDAR, LedgerRules(), sessions, MONDAY + dt.timedelta(days=13))
    assert figures_of(found).missed == {"testing": 30, "no_space": 5}
