"""A ledger's numbers, each with the lines of reasoning that a person can open."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from accounts.dates import date_words
from caseload.delivery.rows import LedgerRow, LineLedger
from caseload.ledger.terms import Effect, Ledger, PeriodAccount, Rules
from caseload.plans.models import ServiceLine

EFFECT_WORDS = {Effect.OWED: "stays owed", Effect.NOT_OWED: "not owed", Effect.TEAM: "the team decides"}


def in_turn(words: Iterable[str]) -> str:
    """Each once, in the order of their days."""
    return ", then ".join(dict.fromkeys(words))


def statements_in_turn(versions: Iterable[ServiceLine]) -> str:
    """A service by what its versions state, oldest first: one statement after the other where it changed."""
    return in_turn(one.statement for one in versions)


@dataclass(frozen=True, slots=True)
class Number:
    """A number of minutes, its name, the sentences behind it and the sessions that it sums."""

    name: str
    minutes: int
    sentences: tuple[str, ...] = ()
    rows: tuple[LedgerRow, ...] = field(default=())
    state: str = ""


ALWAYS = frozenset({"Owed to date", "Delivered", "Still owed"})
"""Numbers that are said even where they are 0."""


def numbers_of(found: LineLedger, rules: Rules) -> tuple[Number, ...]:
    """The numbers of a service that has a ledger, in the order in which people ask for them."""
    ledger = found.ledger
    if ledger is None:
        return ()
    figures = found.figures
    planned, make_ups = _counted(found.rows, ledger.as_of)
    delivered, made_up = _with_minutes(planned), _with_minutes(make_ups)
    waiting = tuple(row for row in planned if row.record.delivered is None)
    behind = "bad" if figures.behind else "ok"
    numbers = [
        Number("Owed to date", figures.owed, tuple(_owed_sentences(ledger))),
        Number("Delivered", figures.delivered, _extra(ledger), delivered),
        *_missed(planned, rules),
        Number("Made up", figures.made_up, _spare(ledger), made_up),
        Number("Not logged yet", figures.unlogged, _waiting_sentence(figures.unlogged), waiting),
        Number("Still owed", figures.behind, tuple(_balances(_of_plan(ledger), "still_owed")), state=behind),
        *_openings(ledger),
        Number("Rounding", figures.rounding, tuple(_balances(ledger.periods, "rounding"))),
        Number("Ahead", figures.ahead, (*_balances(ledger.periods, "ahead"), *_spare(ledger))),
    ]
    return tuple(number for number in numbers if number.minutes or number.state or number.name in ALWAYS)


def _with_minutes(rows: Iterable[LedgerRow]) -> tuple[LedgerRow, ...]:
    return tuple(row for row in rows if row.record.delivered)


def _counted(rows: Iterable[LedgerRow], as_of: dt.date) -> tuple[list[LedgerRow], list[LedgerRow]]:
    """The planned sessions up to a date, and the make-ups."""
    counted = [row for row in rows if row.record.day <= as_of]
    make_ups = [row for row in counted if row.record.makes_up]
    return [row for row in counted if not row.record.makes_up], make_ups


def _owed_sentences(ledger: Ledger) -> Iterable[str]:
    for period in reversed(ledger.periods):
        yield period.reasoning[0]
        if period.due != period.owed:
            yield period.reasoning[1]


def _extra(ledger: Ledger) -> tuple[str, ...]:
    extra = ledger.total("extra")
    return (f"{extra} of them beyond what their sessions had planned.",) if extra else ()


def _spare(ledger: Ledger) -> tuple[str, ...]:
    spare = ledger.spare_make_up
    return (f"{spare} more make-up minutes than were owed.",) if spare else ()


def _openings(ledger: Ledger) -> Iterable[Number]:
    """What each earlier school year, or the plan before, left, apart from what this one owes."""
    for one in ledger.openings:
        name = f"Open from {one.name}"
        if one.problem:
            yield Number(name, 0, (f"The minutes of {one.name} can't be counted: {one.problem}",), state="warn")
            continue
        sentences = [f"{one.opened} minutes were open on {date_words(one.last)}; {one.open} are open now."]
        if one.undecided:
            sentences.append(f"{one.undecided} more wait for the team's decision.")
        state = "bad" if one.open else "ok"
        if one.opened or one.undecided:
            yield Number(name, one.open, (*sentences, *_balances(one.periods, "still_owed")), state=state)


def _of_plan(ledger: Ledger) -> list[PeriodAccount]:
    """Periods of the year less those that were over before the plan in force began: those are told apart."""
    return [one for one in ledger.periods if not any(one is before for before in ledger.before_plan)]


def _waiting_sentence(minutes: int) -> tuple[str, ...]:
    return ("Until they are logged they count as still owed.",) if minutes else ()


def _missed(rows: Sequence[LedgerRow], rules: Rules) -> Iterable[Number]:
    """One number a reason, with what it does."""
    for reason in sorted({row.record.reason for row in rows if row.record.missed}):
        mine = tuple(row for row in rows if row.record.missed and row.record.reason == reason)
        yield _missed_for(reason, mine, rules)


def _missed_for(reason: str, mine: tuple[LedgerRow, ...], rules: Rules) -> Number:
    by_effect: dict[Effect, list[LedgerRow]] = defaultdict(list)
    for row in mine:
        by_effect[rules.on(row.record.day).effects.get(reason, Effect.TEAM)].append(row)
    sentences = [_table_words(by_effect)]
    left = by_effect.get(Effect.TEAM, [])
    waiting = _missed_minutes(row for row in left if row.record.decision is None)
    if left:
        minutes = _missed_minutes(left)
        sentences.append(f"{minutes - waiting} of {minutes} minutes are decided, {waiting} wait for the team.")
    words = rules.on(mine[-1].record.day).words.get(reason, reason)
    return Number(f"Missed: {words}", _missed_minutes(mine), tuple(sentences), mine, "warn" if waiting else "")


def _table_words(by_effect: Mapping[Effect, Sequence[LedgerRow]]) -> str:
    """What the district's table said of a reason on the days of its sessions."""
    if len(by_effect) == 1:
        return f"The district's table says: {EFFECT_WORDS[next(iter(by_effect))]}."
    parts = [f"{_missed_minutes(rows)} minutes {EFFECT_WORDS[effect]}" for effect, rows in by_effect.items()]
    return f"The district's tables of their days say: {', '.join(parts)}."


def _missed_minutes(rows: Iterable[LedgerRow]) -> int:
    return sum(row.record.missed for row in rows)


def _balances(periods: Sequence[PeriodAccount], name: str) -> Iterable[str]:
    for period in reversed(periods):
        minutes = getattr(period, name)
        if minutes:
            yield f"{period.span.name}: {_sum_words(period)}: {minutes} minutes."


def _sum_words(period: PeriodAccount) -> str:
    """“60 due less 30 delivered less 10 made up”; parts that are nothing are left out."""
    parts = (
        (period.delivered, "delivered"),
        (period.made_up, "made up"),
        (period.carried, "carried over"),
        (period.not_owed, "missed and not owed"),
        (period.undecided, "left to the team"),
    )
    return f"{period.due} due" + "".join(f" less {minutes} {words}" for minutes, words in parts if minutes)
