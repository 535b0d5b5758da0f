"""What a change does to figures, period by period, in sentences: owed, delivered, still open."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby

from accounts.dates import span_words
from caseload.ledger.terms import PeriodAccount, Span


@dataclass(frozen=True, slots=True)
class PeriodFigures:
    """Minutes of one period of a service: owed in all, delivered, and open up to the date that was asked for."""

    owed: int = 0
    delivered: int = 0
    open: int = 0


type Figures = Mapping[int, Mapping[Span, PeriodFigures]]
"""By the service's id."""

NOTHING = PeriodFigures()
WORDS = {"owed": "owed", "delivered": "delivered", "open": "open"}


def period_figures(accounts: Iterable[PeriodAccount]) -> dict[Span, PeriodFigures]:
    """A service's accounts as they are compared."""
    return {one.span: PeriodFigures(one.owed, one.delivered + one.made_up, one.still_owed) for one in accounts}


@dataclass(frozen=True, slots=True)
class _Difference:
    span: Span
    words: str


def changes_told(before: Figures, after: Figures, names: Mapping[int, str]) -> list[str]:
    """A sentence for each stretch of periods of a service that change alike, the earliest first.

    Such as “3 x 30 min/week, 4 weeks from December 7, 2026 to January 3, 2027, each: owed 60 → 90”. `names` calls
    the services; where there are several, each sentence begins with whose it is.
    """
    touched = [key for key in {**before, **after} if before.get(key, {}) != after.get(key, {})]
    told = []
    for key in touched:
        name = f"{names[key]}, " if len(names) > 1 else ""
        told += [f"{name}{text}" for text in _service_told(before.get(key, {}), after.get(key, {}))]
    return told


def _service_told(before: Mapping[Span, PeriodFigures], after: Mapping[Span, PeriodFigures]) -> Iterator[str]:
    spans = sorted({*before, *after}, key=lambda one: (one.first, one.last))
    found = [_Difference(one, _words(before.get(one, NOTHING), after.get(one, NOTHING))) for one in spans]
    for words, group in groupby(found, key=lambda one: one.words):
        alike = [one.span for one in group]
        if words:
            yield f"{_spans_words(alike)}: {words}."


def _words(before: PeriodFigures, after: PeriodFigures) -> str:
    """What differs, such as “owed 60 → 90, open 0 → 30 minutes”."""
    pairs = {words: (getattr(before, name), getattr(after, name)) for name, words in WORDS.items()}
    parts = [f"{words} {one} → {other}" for words, (one, other) in pairs.items() if one != other]
    return f"{', '.join(parts)} minutes" if parts else ""


def _spans_words(spans: list[Span]) -> str:
    if len(spans) == 1:
        return spans[0].name
    first, last = spans[0].first, spans[-1].last
    return f"{len(spans)} {_kind(spans[0])} from {span_words(first, last)}, each"


def _kind(span: Span) -> str:
    days = (span.last - span.first) // timedelta(days=1) + 1
    return "weeks" if days == 7 else "months" if span.first.day == 1 and 28 <= days <= 31 else "periods"
