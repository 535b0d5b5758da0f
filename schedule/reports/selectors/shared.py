"""What all reports say: the figures, the district's rules, who made it, sums."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from accounts.dates import date_words
from accounts.models import District, Person
from caseload.delivery.models import LedgerSettings
from caseload.delivery.selectors.log import reasons_of, settings_of
from caseload.delivery.words import EFFECT_WORDS
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.figures import MinuteFigures
from caseload.ledger.report_data import Cell
from caseload.ledger.terms import SHORT_WEEK_WORDS, LedgerRules, ShortWeek

FIGURES = (
    "Owed",
    "Delivered",
    "Made up",
    "Missed",
    "Not owed",
    "Team decides",
    "Not logged",
    "Still owed",
    "Ahead",
)


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
        found.ahead,
    )


def rule_sentences(settings: LedgerSettings, rules: LedgerRules) -> tuple[str, ...]:
    """The rules in force, as they are printed on every report, and who decides."""
    days = settings.make_up_days
    sentences = [
        f"A short week owes: {SHORT_WEEK_WORDS[ShortWeek(settings.short_week)]}.",
        "Minutes above what a period owes "
        + ("count for other periods." if settings.carry_ahead else "are shown and never carried over."),
        f"Missed minutes should be made up within {days} days.",
    ]
    if settings.counts_from is not None:
        sentences.append(f"Minutes are counted from {date_words(settings.counts_from)}.")
    by_effect: dict[str, list[str]] = defaultdict(list)
    for code, effect in rules.effects.items():
        by_effect[EFFECT_WORDS[effect]].append(rules.words.get(code, code))
    sentences += [f"Missed and {words}: {', '.join(names)}." for words, names in by_effect.items()]
    return (*sentences, NO_JUDGMENT)


def rules_of(district: District) -> tuple[str, ...]:
    settings = settings_of(district)
    return rule_sentences(settings, settings.rules(reasons_of(district)))


def made(viewer: Person, today: dt.date) -> tuple[str, str]:
    return "Made", f"{date_words(today)} by {viewer}"


# ---- a student -------------------------------------------------------------------------------------------


def sums(rows: Sequence[tuple[Cell, ...]], texts: int) -> tuple[Cell, ...]:
    """The last row: "Together" and the sums of the columns after the first `texts`."""
    if not rows:
        return ()
    width = len(rows[0])
    sums = [sum(int(row[at]) for row in rows) for at in range(texts, width)]
    return ("Together", *[""] * (texts - 1), *sums)


# ---- many students ---------------------------------------------------------------------------------------
