"""One service whose terms change from a date, and rules that hold from a date. By hand, and by what must hold."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Effect,
    LedgerCalendar,
    LedgerError,
    LedgerLine,
    LedgerRules,
    RuleBook,
    SessionRecord,
    ShortWeek,
    Span,
    Terms,
)
from caseload.plans.frequency import read_frequency
from tests.caseload.ledger_lines import one_line

YEAR = Span("2026-27", dt.date(2026, 9, 7), dt.date(2027, 6, 18))
MONDAY = dt.date(2026, 10, 5)
WEEKDAYS = frozenset(
    day
    for n in range((YEAR.last - YEAR.first).days + 1)
    if (day := YEAR.first + dt.timedelta(days=n)).weekday() < 5
)
CALENDAR = LedgerCalendar(YEAR, WEEKDAYS)
ONE_DAY = dt.timedelta(days=1)


def after(number: int) -> dt.date:
    """So many days after the Monday."""
    return MONDAY + dt.timedelta(days=number)


def service(*versions: tuple[str, dt.date], last: dt.date = YEAR.last, plans: str = "") -> LedgerLine:
    """A service by what it owes from each first day on; `plans` names the plan of each version by a letter."""
    ends = [first - ONE_DAY for _, first in versions[1:]] + [last]
    names = plans or "a" * len(versions)
    return LedgerLine(
        "S",
        tuple(
            Terms(str(n), read_frequency(text), first, end, None, names[n])
            for n, ((text, first), end) in enumerate(zip(versions, ends, strict=True))
        ),
    )


def owed(one: LedgerLine, rules: LedgerRules | RuleBook | None = None) -> list[int]:
    """Minutes owed in each period of the whole year."""
    ledger = build_ledger(one, CALENDAR, rules or LedgerRules(), [], YEAR.last)
    return [period.owed for period in ledger.periods]


@pytest.mark.parametrize("given_on", [(0, 1), (0, 4), (3, 4)])
def test_a_service_handed_over_on_a_thursday_owes_its_week_once(given_on: tuple[int, int]) -> None:
    """2 x 30 before and after: the week owes 60, and whichever days it is given on nothing is behind or ahead."""
    one = service(("2 x 30 min/week", MONDAY), ("2 x 30 min/week", after(3)), last=after(6))
    sessions = [SessionRecord(str(n), after(n), 30, 30) for n in given_on]
    (week,) = build_ledger(one, CALENDAR, LedgerRules(), sessions, after(6)).periods
    assert (week.owed, week.still_owed, week.ahead) == (60, 0, 0)


def test_other_terms_share_the_week_by_days() -> None:
    """3 x 30 for three days and 4 x 30 for two of a week: 54 and 48 minutes (computed)."""
    one = service(("3 x 30 min/week", MONDAY), ("4 x 30 min/week", after(3)), last=after(13))
    assert owed(one) == [102, 120]
    words = build_ledger(one, CALENDAR, LedgerRules(), [], YEAR.last).periods[0].reasoning[0]
    assert "3 x 30 min/week is 90 minutes, from" in words
    assert "4 x 30 min/week is 120 minutes" in words


def test_a_shared_week_is_rounded_once() -> None:
    """11 and 14 minutes a week, two and three days: 4.4 and 8.4 are 12.8, so 13; rounded each they were 12."""
    one = service(("11 min/week", MONDAY), ("14 min/week", after(2)), last=after(6))
    assert owed(one) == [13]


def test_a_change_in_december_leaves_the_autumn_as_it_was() -> None:
    """3 lessons from October, 4 from December 7: every earlier week owes 90, every later one 120."""
    one = service(
        ("3 x 30 min/week", MONDAY), ("4 x 30 min/week", dt.date(2026, 12, 7)), last=dt.date(2026, 12, 18)
    )
    assert owed(one) == [90] * 9 + [120] * 2


def test_versions_that_count_in_other_units_have_their_own_periods() -> None:
    """By the week until Wednesday, by the month from Thursday: a session counts where its day was in force."""
    one = service(("2 x 30 min/week", MONDAY), ("44 min/month", after(3)), last=dt.date(2026, 10, 31))
    sessions = [SessionRecord("a", after(1), 30, 30), SessionRecord("b", after(3), 20, 20)]
    week, month = build_ledger(one, CALENDAR, LedgerRules(), sessions, dt.date(2026, 10, 31)).periods
    # Three of five weekdays of 60 minutes; 17 of October's 22 weekdays of 44 (computed).
    assert (week.owed, week.delivered) == (36, 30)
    assert (month.owed, month.delivered) == (34, 20)


def test_a_daily_service_that_changes_owes_each_day_its_own() -> None:
    """Once a day 20 minutes for three days, then twice: 60 and 80 of one week."""
    one = service(("20 min daily", MONDAY), ("twice a day 20 min", after(3)), last=after(6))
    assert owed(one) == [140]


def test_a_whole_service_ends_with_its_plan() -> None:
    """20 x 30 in all, renewed: two totals. Handed over within one plan: one."""
    versions = (("20 x 30 min in all", MONDAY), ("20 x 30 min in all", dt.date(2026, 11, 2)))
    last = dt.date(2026, 12, 11)
    assert owed(service(*versions, last=last, plans="ab")) == [600, 600]
    assert owed(service(*versions, last=last, plans="aa")) == [600]


def test_turns_of_weeks_run_on_over_a_change() -> None:
    """1 of 2 weeks, from October 5, handed over on October 14: the turns stay, and each owes once."""
    one = service(("1 of 2 weeks, 30 min", MONDAY), ("1 of 2 weeks, 30 min", after(9)), last=after(27))
    spans = [period.span.first for period in build_ledger(one, CALENDAR, LedgerRules(), [], YEAR.last).periods]
    assert spans == [MONDAY, after(14)]
    assert owed(one) == [30, 30]


def test_versions_must_follow_each_other() -> None:
    """Two in force on one day would owe twice; none at all owes nothing that could be said."""
    first, second = service(("2 x 30 min/week", MONDAY), ("3 x 30 min/week", after(7))).terms
    with pytest.raises(LedgerError, match="after the one before"):
        LedgerLine("S", (replace(first, last=after(7)), second))
    with pytest.raises(LedgerError, match="one or more"):
        LedgerLine("S", ())


@given(
    st.lists(st.integers(0, 60), max_size=4, unique=True),
    st.sampled_from([ShortWeek.WHOLE, ShortWeek.PROPORTION]),
    st.sampled_from(
        ["2 x 30 min/week", "90 min/month", "7 x 25 min/year", "3 of 4 weeks, 30 min", "40 min in all"]
    ),
)
def test_versions_with_the_same_terms_owe_what_one_does(cuts: list[int], rule: ShortWeek, text: str) -> None:
    """However often a service is handed over, its periods and what they owe stay."""
    firsts = [MONDAY] + [after(cut + 1) for cut in sorted(cuts)]
    several = service(*((text, first) for first in firsts), last=after(61))
    rules = LedgerRules(short_week=rule)
    found, whole = (
        build_ledger(one, CALENDAR, rules, [], YEAR.last)
        for one in (several, one_line("S", read_frequency(text), MONDAY, after(61)))
    )
    assert [(one.span, one.owed, one.due) for one in found.periods] == [
        (one.span, one.owed, one.due) for one in whole.periods
    ]


# ---- rules by date ---------------------------------------------------------------------------------------


def test_a_period_goes_by_the_rules_of_its_first_day() -> None:
    """In proportion from a Wednesday on: the running week is whole still, the next one isn't."""
    whole, proportion = (LedgerRules(short_week=rule) for rule in (ShortWeek.WHOLE, ShortWeek.PROPORTION))
    book = RuleBook(((dt.date(2020, 1, 1), whole), (after(2), proportion)))
    school = LedgerCalendar(YEAR, WEEKDAYS - {after(4), after(11)})
    one = one_line("S", read_frequency("100 min/week"), MONDAY, after(13))
    assert [period.owed for period in build_ledger(one, school, book, [], YEAR.last).periods] == [100, 80]


def test_a_missed_session_goes_by_the_table_of_its_own_day() -> None:
    """Testing is owed until Wednesday, and not from then on."""
    book = RuleBook(
        (
            (dt.date(2020, 1, 1), LedgerRules(effects={"testing": Effect.OWED})),
            (after(2), LedgerRules(effects={"testing": Effect.NOT_OWED})),
        )
    )
    sessions = [SessionRecord(str(n), after(n), 30, 0, "testing") for n in (1, 2)]
    one = one_line("S", read_frequency("2 x 30 min/week"), MONDAY, after(6))
    (week,) = build_ledger(one, CALENDAR, book, sessions, after(6)).periods
    assert (week.still_owed, week.not_owed) == (30, 30)


def test_the_first_rules_hold_since_ever_and_a_book_is_in_order() -> None:
    """Nothing before the first day is without rules; two sets on one day are refused, and none."""
    early, late = LedgerRules(), LedgerRules(carry_ahead=True)
    book = RuleBook(((MONDAY, early), (after(7), late)))
    assert [book.on(after(n)) for n in (-1, 0, 6, 7)] == [early, early, early, late]
    for wrong in ((), ((MONDAY, early), (MONDAY, late)), ((after(1), early), (MONDAY, late))):
        with pytest.raises(LedgerError, match="book of rules"):
            RuleBook(wrong)
    assert early.on(MONDAY) is early
