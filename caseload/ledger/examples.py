"""What each rule for short weeks owes in one small example, worked out by the ledger itself. Pure."""

from dataclasses import dataclass
from datetime import date, timedelta

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Ledger,
    LedgerCalendar,
    LedgerLine,
    LedgerRules,
    SessionRecord,
    ShortWeek,
    Span,
    Terms,
)
from caseload.plans.frequency import read_frequency

MONDAY = date(2027, 1, 18)
EXAMPLE = (
    "Example: 2 x 30 minutes a week, on Mondays and Wednesdays. One week Monday is a holiday; in another there is "
    "no school at all."
)
DEFAULT_WORDS = (
    "What is scheduled is the rule as shipped: a teacher who gave every session that the school days allowed is "
    "never behind under it."
)


@dataclass(frozen=True, slots=True)
class ShortWeekExample:
    """A rule with the minutes that it owes in the example: with a Monday closed, and without a day in session."""

    rule: ShortWeek
    short: int
    closed: int
    behind: int

    @property
    def words(self) -> str:
        """As it stands beside the rule."""
        behind = f"{self.behind} still owed after Wednesday" if self.behind else "nothing owed after Wednesday"
        return f"{self.short} minutes in the week with the holiday, {behind}; {self.closed} without school."


def short_week_examples() -> dict[str, ShortWeekExample]:
    """The example under each rule, by the rule's code."""
    return {rule.value: _example(rule) for rule in ShortWeek}


def _example(rule: ShortWeek) -> ShortWeekExample:
    week = [MONDAY + timedelta(days=number) for number in range(5)]
    wednesday = SessionRecord("wednesday", week[2], 30, 30)
    short = _week(rule, frozenset(week[1:]), [wednesday])
    closed = _week(rule, frozenset(), [])
    return ShortWeekExample(rule, short.total("owed"), closed.total("owed"), short.total("still_owed"))


def _week(rule: ShortWeek, in_session: frozenset[date], sessions: list[SessionRecord]) -> Ledger:
    last = MONDAY + timedelta(days=6)
    terms = Terms("example", read_frequency("2 x 30 min/week"), MONDAY, last)
    calendar = LedgerCalendar(Span("example", MONDAY, last), in_session)
    return build_ledger(LedgerLine("example", (terms,)), calendar, LedgerRules(rule), sessions, last)
