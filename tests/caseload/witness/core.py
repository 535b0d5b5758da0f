"""One life as the program's ledger takes it, and both answers as figures that can be compared."""

import datetime as dt
from collections.abc import Mapping

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerLine,
    LedgerRules,
    PeriodAccount,
    RuleBook,
    SessionRecord,
    ShortWeek,
    Span,
    Terms,
)
from caseload.plans.enrollments import Stay, runs_of, school_days_around
from caseload.plans.frequency import Frequency, FrequencyUnit
from tests.caseload.witness.life import Deal, Lesson, Life, RuleSet, Stretch, Year
from tests.caseload.witness.second_ledger import Account, Answer, own_turns

UNITS = {"weeks": FrequencyUnit.WEEK, "service": FrequencyUnit.TOTAL}
SHORT = {"scheduled": ShortWeek.AS_SCHEDULED, "proportion": ShortWeek.PROPORTION, "whole": ShortWeek.WHOLE}
EFFECTS = {"owed": Effect.OWED, "not_owed": Effect.NOT_OWED, "team": Effect.TEAM}

type Figures = dict[str, object]


def core_ledger(life: Life) -> Ledger:
    """The program's answer for a life up to its date."""
    *earlier, calendar = [_calendar(life, year) for year in life.asked_years]
    later = [year.first for year in life.years if year not in life.asked_years]
    until = min(later, default=dt.date.max)
    sessions = [_session(n, one) for n, one in enumerate(life.lessons) if one.day < until]
    return build_ledger(_line(life), calendar, _rules(life), sessions, life.as_of, earlier)


def _line(life: Life) -> LedgerLine:
    terms = []
    for n, version in enumerate(life.versions):
        first = max(version.first, life.counts_from)
        for begin, end in runs_of(_stays(life), first, version.last):
            since, until = life.begins(version), life.ends(version)
            terms.append(Terms(str(n), frequency(version.deal), begin, end, since, version.plan, end=until))
    return LedgerLine("S", tuple(terms))


def frequency(deal: Deal) -> Frequency:
    """A deal in the program's terms."""
    unit = UNITS.get(deal.unit) or FrequencyUnit(deal.unit)
    total = deal.total if deal.times is None else None
    minutes = None if deal.times is None else deal.minutes
    return Frequency(deal.times, minutes, total, unit, deal.length, deal.on, deal.of or None)


def _stays(life: Life) -> list[Stay]:
    return [Stay(place, stay.first, stay.last) for place, stay in life.at]


def _calendar(life: Life, year: Year) -> LedgerCalendar:
    open_days = {
        n: [day for day in held if year.first <= day <= year.last] for n, held in enumerate(life.open_days)
    }
    turns = {
        str(n): _spans(own_turns(life, year, one))
        for n, one in enumerate(life.versions)
        if one.deal.unit == "cycle" and one.deal.length not in {None, life.rotation}
    }
    return LedgerCalendar(
        Span(str(year.first), year.first, year.last),
        school_days_around(_stays(life), open_days),
        _spans(year.marking),
        _spans(year.turns),
        turns,
    )


def _spans(stretches: "tuple[Stretch, ...] | list[Stretch]") -> tuple[Span, ...]:
    return tuple(Span(str(one.first), one.first, one.last) for one in stretches)


def _rules(life: Life) -> RuleBook:
    return RuleBook(tuple((first, _rule_set(one)) for first, one in life.rules))


def _rule_set(one: RuleSet) -> LedgerRules:
    effects = {reason: EFFECTS[effect] for reason, effect in one.reasons.items()}
    return LedgerRules(SHORT[one.short], effects, one.carry, {}, one.least)


def _session(number: int, one: Lesson) -> SessionRecord:
    return SessionRecord(
        f"{number:04}",
        one.day,
        one.minutes,
        one.given,
        one.reason,
        EFFECTS.get(one.team),
        one.make_up,
        one.booked_for,
    )


# ---- side by side ----------------------------------------------------------------------------------------

SAME = (
    "owed", "due", "scheduled", "delivered", "unlogged", "future", "extra", "not_owed", "undecided", "made_up",
    "carried", "carried_on", "rounding", "still_owed", "ahead",
)  # fmt: skip


def figures_of(one: Account | PeriodAccount, first: dt.date, missed: Mapping[str, int]) -> Figures:
    """A period's figures, and when it begins."""
    found: Figures = {name: getattr(one, name) for name in SAME}
    return {"first": first, **found, "missed": {reason: n for reason, n in missed.items() if n}}


def said_by_core(ledger: Ledger) -> list[Figures]:
    """Everything that the program's ledger says, year by year; periods without a minute are left out."""
    said = [figures_of(one, one.span.first, one.missed) for one in ledger.all_periods]
    balances: list[Figures] = [
        {"opened": one.opened, "open": one.open, "undecided": one.undecided, "problem": one.problem}
        for one in ledger.openings
    ]
    return [*_with_minutes([*said, *balances]), {"spare": ledger.spare_make_up, "opening": ledger.opening}]


def said_by_witness(answer: Answer) -> list[Figures]:
    """The same of the second ledger's."""
    *earlier, _ = answer.years
    said = [figures_of(one, one.stretch.first, one.missed) for year in answer.years for one in year]
    balances: list[Figures] = [
        {
            "opened": opened,
            "open": sum(one.still_owed for one in year),
            "undecided": sum(one.undecided for one in year),
            "problem": "",
        }
        for year, opened in zip(earlier, answer.opened, strict=False)
    ]
    if answer.of_plan:
        balances.append(
            {
                "opened": answer.plan_opened,
                "open": sum(one.still_owed for one in answer.of_plan),
                "undecided": sum(one.undecided for one in answer.of_plan),
                "problem": "",
            }
        )
    opening = sum(one.still_owed for year in [*earlier, answer.of_plan] for one in year)
    return [*_with_minutes([*said, *balances]), {"spare": answer.spare, "opening": opening}]


def _with_minutes(said: list[Figures]) -> list[Figures]:
    return [one for one in said if any(value for name, value in one.items() if name != "first")]
