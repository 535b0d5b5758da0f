"""Cases that a ledger once got wrong, each with what it must say. By hand; the source stands beside each rule."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.figures import figures_of
from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    DEFAULT_SHORT_WEEK,
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerLine,
    LedgerRules,
    PeriodAccount,
    SessionRecord,
    ShortWeek,
    Span,
    Terms,
)
from caseload.plans.frequency import read_frequency
from tests.caseload.ledger_lines import one_line

YEAR = Span("2026-27", dt.date(2026, 9, 7), dt.date(2027, 6, 18))
NEXT = Span("2027-28", dt.date(2027, 9, 6), dt.date(2028, 6, 16))
MONDAY = dt.date(2026, 10, 5)
RECESS = frozenset(dt.date(2026, 12, 21) + dt.timedelta(days=n) for n in range(12))


def weekdays(year: Span) -> frozenset[dt.date]:
    """Monday to Friday of a school year."""
    days = (year.first + dt.timedelta(days=n) for n in range((year.last - year.first).days + 1))
    return frozenset(one for one in days if one.weekday() < 5)


def school(*closed: dt.date, year: Span = YEAR) -> LedgerCalendar:
    """A school year with days closed."""
    return LedgerCalendar(year, weekdays(year) - frozenset(closed))


def after(number: int, since: dt.date = MONDAY) -> dt.date:
    """So many days after a Monday."""
    return since + dt.timedelta(days=number)


def line(text: str, first: dt.date = MONDAY, last: dt.date = YEAR.last) -> LedgerLine:
    """A service of one version."""
    return one_line("S", read_frequency(text), first, last)


def week(
    text: str,
    sessions: list[SessionRecord],
    rules: LedgerRules,
    closed: frozenset[dt.date] = frozenset(),
    first: dt.date = MONDAY,
) -> PeriodAccount:
    """The account of one week of a service when it is over."""
    (found,) = build_ledger(line(text, first, after(6)), school(*closed), rules, sessions, after(6)).periods
    return found


# ---- weeks with and without school -----------------------------------------------------------------------


@pytest.mark.parametrize("rule", ShortWeek)
@pytest.mark.parametrize(
    "text", ["2 x 30 min/week", "60 min/week", "30 min daily", "1 of 2 weeks, 60 min", "1 x 45 min/10-day cycle"]
)
def test_the_winter_recess_owes_nothing(rule: ShortWeek, text: str) -> None:
    """Two weeks without a day in session, under every rule; "whole week" once charged 60 for one of them."""
    recess = dt.date(2026, 12, 21)
    turns = (Span("recess", recess, after(13, recess)),)
    calendar = LedgerCalendar(YEAR, weekdays(YEAR) - RECESS, cycles=turns)
    one = line(text, recess, after(13, recess))
    ledger = build_ledger(one, calendar, LedgerRules(short_week=rule), [], YEAR.last)
    assert [period.owed for period in ledger.periods] == [0] * len(ledger.periods)


def test_a_month_without_a_day_in_session_owes_nothing() -> None:
    """A service that is in force in a month's recess only owes nothing of the month: nobody can give it."""
    one = line("90 min/month", dt.date(2026, 12, 21), dt.date(2026, 12, 31))
    assert build_ledger(one, school(*RECESS), LedgerRules(), [], YEAR.last).total("owed") == 0


def test_a_turn_of_weeks_owes_no_more_weeks_than_have_school() -> None:
    """3 of 4 weeks, 30 minutes, of which two are recess: 60 and not 90."""
    first = dt.date(2026, 12, 7)
    one = line("3 of 4 weeks, 30 min", first, after(27, first))
    rules = LedgerRules(short_week=ShortWeek.WHOLE)
    assert build_ledger(one, school(*RECESS), rules, [], YEAR.last).total("owed") == 60


@pytest.mark.parametrize("rule", ShortWeek)
def test_a_snow_day_owes_what_a_holiday_does_where_the_table_says_owed(rule: ShortWeek) -> None:
    """2 x 30; Monday is closed. In August it was known, or its session was planned and the school closed."""
    rules = LedgerRules(short_week=rule, effects={"school_closed": Effect.OWED})
    held = SessionRecord("wed", after(2), 30, 30)
    snow = SessionRecord("mon", MONDAY, 30, 0, "school_closed")
    closed = frozenset((MONDAY,))
    holiday, storm = (week("2 x 30 min/week", told, rules, closed) for told in ([held], [held, snow]))
    assert (storm.owed, storm.still_owed, storm.ahead) == (holiday.owed, holiday.still_owed, holiday.ahead)


@pytest.mark.parametrize(
    ("rule", "holiday", "storm"),
    [(ShortWeek.WHOLE, 30, 0), (ShortWeek.PROPORTION, 18, 0), (ShortWeek.AS_SCHEDULED, 0, 0)],
)
def test_where_the_table_says_not_owed_a_snow_day_forgives_its_session(
    rule: ShortWeek, holiday: int, storm: int
) -> None:
    """Minutes still owed of 60 when Wednesday's 30 were given: a holiday's session is owed by the rule alone."""
    rules = LedgerRules(short_week=rule, effects={"school_closed": Effect.NOT_OWED})
    held = SessionRecord("wed", after(2), 30, 30)
    snow = SessionRecord("mon", MONDAY, 30, 0, "school_closed")
    found = [week("2 x 30 min/week", told, rules, frozenset((MONDAY,))) for told in ([held], [held, snow])]
    assert [one.still_owed for one in found] == [holiday, storm]


@pytest.mark.parametrize("rule", ShortWeek)
def test_a_closing_is_never_forgiven_twice(rule: ShortWeek) -> None:
    """Snow on Monday, no space on Wednesday: of 60 minutes 30 at the least stay owed, whatever the rule."""
    effects = {"school_closed": Effect.NOT_OWED, "no_space": Effect.OWED}
    told = [
        SessionRecord("mon", MONDAY, 30, 0, "school_closed"),
        SessionRecord("wed", after(2), 30, 0, "no_space"),
    ]
    found = week("2 x 30 min/week", told, LedgerRules(short_week=rule, effects=effects), frozenset((MONDAY,)))
    assert (found.still_owed, found.ahead) == (30, 0)


def test_as_scheduled_does_not_forgive_what_a_full_week_never_placed() -> None:
    """One of two sessions was planned and given, no day was closed: 30 are behind."""
    held = [SessionRecord("wed", after(2), 30, 30)]
    assert week("2 x 30 min/week", held, LedgerRules(short_week=ShortWeek.AS_SCHEDULED)).still_owed == 30
    assert week("2 x 30 min/week", [], LedgerRules(short_week=ShortWeek.AS_SCHEDULED)).still_owed == 60


@given(
    st.integers(1, 10),
    st.sampled_from([10, 30, 45]),
    st.sets(st.integers(0, 4)),
    st.integers(0, 4),
    st.booleans(),
)
def test_whoever_gives_every_possible_session_is_never_behind_by_the_default(
    times: int, minutes: int, closed: set[int], begins: int, usual_days_only: bool
) -> None:
    """Whichever days are closed, and whenever the service begins: sessions on all days there are, or on usual ones.

    A day holds a fifth of the week's sessions, rounded up. The usual days are the first ones of the week.
    """
    most = -(-times // 5)
    usual = [number for number in range(5) for _ in range(most)][:times] if usual_days_only else None
    days = [number for number in range(begins, 5) if number not in closed]
    possible = [number for number in days for _ in range(most)][:times]
    chosen = possible if usual is None else [number for number in usual if number in days]
    if usual is not None and begins:
        chosen = possible
    told = [SessionRecord(f"{at}", after(number), minutes, minutes) for at, number in enumerate(chosen)]
    rules = LedgerRules(short_week=DEFAULT_SHORT_WEEK)
    found = week(f"{times} x {minutes} min/week", told, rules, frozenset(after(n) for n in closed), after(begins))
    assert found.still_owed == 0


# ---- the first and the last week, and month --------------------------------------------------------------


@pytest.mark.parametrize("rule", ShortWeek)
@pytest.mark.parametrize("text", ["100 min/week", "100 min/month"])
def test_first_and_last_periods_owe_the_days_in_session_that_are_in_force(rule: ShortWeek, text: str) -> None:
    """One rule for weeks and months: four of five, or of twenty, days in session are four fifths, 80 minutes."""
    days = sorted(weekdays(YEAR))
    calendar = LedgerCalendar(
        Span("year", dt.date(2027, 2, 1), dt.date(2027, 2, 28)),
        frozenset(one for one in days if one.month == 2 and one.year == 2027),
    )
    monday = dt.date(2027, 2, 8)
    size = 5 if "week" in text else 20
    within = sorted(calendar.in_session) if size == 20 else [after(n, monday) for n in range(5)]
    for one in (line(text, within[size // 5], within[-1]), line(text, within[0], within[-1 - size // 5])):
        assert build_ledger(one, calendar, LedgerRules(short_week=rule), [], YEAR.last).total("owed") == 80


def test_it_makes_no_difference_whether_a_plan_began_in_the_summer() -> None:
    """School begins on Tuesday: a service from August 1 and one from that day owe the same first week and month."""
    calendar = LedgerCalendar(Span("year", dt.date(2026, 9, 1), YEAR.last), weekdays(YEAR) | {dt.date(2026, 9, 1)})
    for rule in ShortWeek:
        for text in ("2 x 30 min/week", "90 min/month"):
            owed = [
                build_ledger(line(text, first), calendar, LedgerRules(short_week=rule), [], dt.date(2026, 9, 30))
                .periods[0]
                .owed
                for first in (dt.date(2026, 8, 1), dt.date(2026, 9, 1))
            ]
            assert owed[0] == owed[1], (rule, text)


def test_three_days_of_june_owe_no_more_sessions_than_they_hold() -> None:
    """8 x 30 a month where the school year ends after three days in session: 90 and not 240."""
    year = Span("year", dt.date(2026, 9, 7), dt.date(2027, 6, 3))
    calendar = LedgerCalendar(year, weekdays(year))
    one = one_line("S", read_frequency("8 x 30 min/month"), dt.date(2027, 6, 1), dt.date(2027, 6, 30))
    assert build_ledger(one, calendar, LedgerRules(), [], year.last).total("owed") == 90


# ---- rounding --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("given_minutes", "rounding", "owed"), [(20, 4, 0), (14, 0, 10), (0, 0, 24), (24, 0, 0)])
def test_what_a_share_leaves_below_a_session_is_rounding(given_minutes: int, rounding: int, owed: int) -> None:
    """Counted from Thursday on, 2 x 30 owes 24: after a session of 20 nobody makes up 4 minutes."""
    told = [SessionRecord("thu", after(3), given_minutes, given_minutes)] if given_minutes else []
    found = week("2 x 30 min/week", told, LedgerRules(least=10), first=after(3))
    assert (found.owed, found.rounding, found.still_owed) == (24, rounding, owed)
    assert any("rounding" in text for text in found.reasoning) is bool(rounding)


def test_minutes_that_a_whole_week_lacks_are_owed_however_few() -> None:
    """26 of 30 given in a week that owes them whole: 4 stay owed, and are joined with others."""
    told = [SessionRecord("mon", MONDAY, 30, 26, "testing")]
    rules = LedgerRules(least=10, effects={"testing": Effect.OWED})
    found = week("1 x 30 min/week", told, rules)
    assert (found.rounding, found.still_owed) == (0, 4)


# ---- ahead -----------------------------------------------------------------------------------------------


def test_excused_minutes_are_never_ahead() -> None:
    """60 given and 30 excused of 60 owed: nothing is ahead; 70 given: 10."""
    rules = LedgerRules(effects={"student_absent": Effect.NOT_OWED})
    for given_minutes, ahead in ((30, 0), (40, 10)):
        told = [
            SessionRecord("mon", MONDAY, 30, 30),
            SessionRecord("wed", after(2), 30, 0, "student_absent"),
            SessionRecord("fri", after(4), 30, given_minutes),
        ]
        found = week("2 x 30 min/week", told, rules)
        assert (found.ahead, found.still_owed) == (ahead, 0)


def test_carried_minutes_are_not_ahead_any_more() -> None:
    """90 given of 60 and none of the next 60: 30 carried, none ahead, 30 behind."""
    told = [SessionRecord("mon", MONDAY, 30, 90)]
    ledger = build_ledger(
        line("2 x 30 min/week", last=after(13)), school(), LedgerRules(carry_ahead=True), told, after(13)
    )
    found = figures_of(ledger)
    assert (found.carried, found.ahead, found.behind) == (30, 0, 30)


# ---- make-ups --------------------------------------------------------------------------------------------


def test_a_make_up_pays_what_it_was_booked_for() -> None:
    """Two weeks lack 30; the make-up was booked for the second's Monday."""
    one = line("1 x 30 min/week", last=after(13))
    for booked_for, made_up in ((after(7), [0, 30]), (MONDAY, [30, 0]), (None, [30, 0])):
        make_up = SessionRecord("m", after(15), 30, 30, makes_up=True, makes_up_for=booked_for)
        ledger = build_ledger(one, school(), LedgerRules(), [make_up], after(16))
        assert [period.made_up for period in ledger.periods] == made_up


def test_what_a_make_up_has_beyond_its_booking_goes_to_the_oldest() -> None:
    """45 minutes booked for the second week's 30: 15 go to the first."""
    one = line("1 x 30 min/week", last=after(13))
    make_up = SessionRecord("m", after(15), 45, 45, makes_up=True, makes_up_for=after(7))
    ledger = build_ledger(one, school(), LedgerRules(), [make_up], after(16))
    assert [(period.made_up, period.still_owed) for period in ledger.periods] == [(15, 15), (30, 0)]


# ---- opening balances ------------------------------------------------------------------------------------

MAY = dt.date(2027, 5, 10)


def two_years(*sessions: SessionRecord, as_of: dt.date = dt.date(2027, 9, 12)) -> Ledger:
    """A service of 1 x 30 a week from May 2027 on, in September."""
    one = line("1 x 30 min/week", MAY, NEXT.last)
    last_year = [
        SessionRecord(str(n), after(7 * n, MAY), 30, 0 if n == 0 else 30, "no_space" if n == 0 else "")
        for n in range(6)
    ]
    rules = LedgerRules(effects={"no_space": Effect.OWED})
    return build_ledger(one, school(year=NEXT), rules, [*last_year, *sessions], as_of, [school()])


def test_what_a_year_left_is_the_opening_balance_of_the_next() -> None:
    """30 minutes of May, kept apart from what September owes."""
    ledger = two_years()
    assert ledger.total("owed") == 30
    (opening,) = ledger.openings
    assert (opening.name, opening.opened, opening.open) == ("2026-27", 30, 30)
    assert ledger.opening == 30
    assert figures_of(ledger).owed == 30


def test_a_make_up_for_may_pays_may() -> None:
    """Given in September for a session in May: the balance is paid, and September owes what it did."""
    make_up = SessionRecord("m", dt.date(2027, 9, 8), 30, 30, makes_up=True, makes_up_for=MAY)
    ledger = two_years(make_up)
    (opening,) = ledger.openings
    assert (opening.opened, opening.open) == (30, 0)
    assert (ledger.total("made_up"), figures_of(ledger).behind) == (0, 30)


def test_a_make_up_without_a_booking_pays_the_opening_balance_first() -> None:
    """The oldest shortfall is that of May."""
    ledger = two_years(SessionRecord("m", dt.date(2027, 9, 8), 30, 30, makes_up=True))
    assert [one.open for one in ledger.openings] == [0]
    assert ledger.spare_make_up == 0


def test_minutes_ahead_of_a_year_pay_nothing_of_the_next() -> None:
    """Where the district carries: within its year alone."""
    one = line("1 x 30 min/week", dt.date(2027, 6, 14), NEXT.last)
    told = [SessionRecord("a", dt.date(2027, 6, 14), 30, 90)]
    rules = LedgerRules(carry_ahead=True)
    ledger = build_ledger(one, school(year=NEXT), rules, told, dt.date(2027, 9, 12), [school()])
    assert (ledger.total("carried"), figures_of(ledger).behind) == (0, 30)


def test_a_year_that_cannot_be_counted_is_said_and_stops_nothing() -> None:
    """Last year has no marking periods: this one is counted, and the other is named."""
    quarter = Span("first quarter", NEXT.first, dt.date(2027, 11, 12))
    calendar = LedgerCalendar(NEXT, weekdays(NEXT), marking_periods=(quarter,))
    one = line("3 x 20 min per marking period", MAY, NEXT.last)
    ledger = build_ledger(one, calendar, LedgerRules(), [], dt.date(2027, 11, 12), [school()])
    assert ledger.total("owed") == 60
    assert "no marking periods" in ledger.openings[0].problem


def test_a_whole_service_over_two_years_is_counted_once() -> None:
    """20 x 30 in all from May to October: due at its end, and no opening balance."""
    one = line("20 x 30 min in all", MAY, dt.date(2027, 10, 29))
    ledger = build_ledger(one, school(year=NEXT), LedgerRules(), [], dt.date(2027, 10, 29), [school()])
    assert (ledger.total("owed"), ledger.openings) == (600, ())
    june = build_ledger(one, school(), LedgerRules(), [], YEAR.last)
    assert june.total("due") == 0


# ---- a season outside the school year --------------------------------------------------------------------


def test_a_season_has_its_own_days_and_only_the_services_that_a_plan_names_for_it() -> None:
    """34 CFR 300.106: extended school year services are beyond the normal year, as the plan says.

    Four weeks of July owe 60 each where the plan names the service, nothing for the other; and the service of the
    season owes nothing in the school year, though its dates would reach into it.
    """
    july = Span("Summer 2027", dt.date(2027, 7, 5), dt.date(2027, 7, 30))
    season = LedgerCalendar(july, weekdays(july), extended=True)
    terms = Terms(
        "esy", read_frequency("2 x 30 min/week"), dt.date(2027, 6, 1), dt.date(2027, 8, 31), extended=True
    )
    named, other = LedgerLine("S", (terms,)), line("2 x 30 min/week", last=dt.date(2027, 8, 31))
    assert [one.owed for one in build_ledger(named, season, LedgerRules(), [], july.last).periods] == [60] * 4
    assert build_ledger(other, season, LedgerRules(), [], july.last).periods == ()
    assert build_ledger(named, school(), LedgerRules(), [], YEAR.last).periods == ()
    assert build_ledger(other, school(), LedgerRules(), [], YEAR.last).total("owed") > 0


def test_what_a_season_left_open_is_an_opening_balance_too() -> None:
    """Of July's 240 minutes 30 were missed for want of a gym: September knows of them, kept apart."""
    july = Span("Summer 2027", dt.date(2027, 7, 5), dt.date(2027, 7, 30))
    season = LedgerCalendar(july, weekdays(july), extended=True)
    terms = Terms("esy", read_frequency("2 x 30 min/week"), july.first, july.last, extended=True)
    told = [
        SessionRecord(f"{week}-{day}", after(7 * week + day, july.first), 30, 0 if week + day == 0 else 30, "gym")
        for week in range(4)
        for day in (0, 2)
    ]
    rules = LedgerRules(effects={"gym": Effect.OWED})
    ledger = build_ledger(
        LedgerLine("S", (terms,)), school(year=NEXT), rules, told, dt.date(2027, 9, 12), [school(), season]
    )
    assert [(one.name, one.open) for one in ledger.openings] == [("Summer 2027", 30)]
    assert ledger.total("owed") == 0
