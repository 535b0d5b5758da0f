"""What all reports say: the figures, the district's rules, who made it, sums."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from accounts.dates import date_words
from accounts.models import District, Person
from caseload.delivery.selectors.known import rule_book_known
from caseload.delivery.selectors.log import rule_book_of, settings_of
from caseload.delivery.words import EFFECT_WORDS
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.figures import MinuteFigures
from caseload.ledger.report_data import Cell
from caseload.ledger.terms import SHORT_WEEK_WORDS, LedgerRules
from schedule.log.known import KnownOn


def figure_cells(found: MinuteFigures) -> tuple[int, ...]:
    """Figures in the order of `FIGURES`."""
    return (
        found.owed,
        found.delivered,
        found.made_up,
        found.missed_minutes,
        found.not_owed,
        found.undecided,
        found.unlogged,
        found.behind,
        found.opening,
        found.ahead,
    )


def rules_of(district: District, last: dt.date, known: KnownOn | None = None) -> tuple[str, ...]:
    """The rules up to a date, as they are printed on every report, and who decides.

    Where rules changed, those of before stand first, and what was otherwise from a day on is said with the day.
    """
    settings = settings_of(district, last)
    book = rule_book_of(district) if known is None else rule_book_known(district, known.moment)
    begun = [(day, rules) for day, rules in book.dated if day <= last]
    told: list[str] = []
    before: set[str] = set()
    for place, (day, rules) in enumerate(begun):
        sentences = _counting(rules)
        told += [f"From {date_words(day)}: {one}" if place else one for one in sentences if one not in before]
        before = set(sentences)
    told.append(f"Missed minutes should be made up within {settings.make_up_days} days.")
    if settings.counts_from is not None:
        told.append(f"Minutes are counted from {date_words(settings.counts_from)}.")
    return (*told, NO_JUDGMENT)


def _counting(rules: LedgerRules) -> list[str]:
    """What changes figures, in sentences."""
    sentences = [
        f"A week with closed days owes: {SHORT_WEEK_WORDS[rules.short_week]}.",
        "Minutes above what a period owes "
        + ("count for other periods." if rules.carry_ahead else "are shown and never carried over."),
    ]
    by_effect: dict[str, list[str]] = defaultdict(list)
    for code, effect in rules.effects.items():
        by_effect[EFFECT_WORDS[effect]].append(rules.words.get(code, code))
    return sentences + [f"Missed and {words}: {', '.join(names)}." for words, names in by_effect.items()]


def made(viewer: Person, today: dt.date) -> tuple[str, str]:
    return "Made", f"{date_words(today)} by {viewer}"


# ---- a student -------------------------------------------------------------------------------------------


def sums(rows: Sequence[tuple[Cell, ...]], texts: int) -> tuple[Cell, ...]:
    """The last row: "Together" and the sums of the columns after the first `texts`."""
    if not rows:
        return ()
    width = len(rows[0])
    sums = [sum(cell for row in rows if isinstance(cell := row[at], int)) for at in range(texts, width)]
    return ("Together", *[""] * (texts - 1), *sums)


# ---- many students ---------------------------------------------------------------------------------------
