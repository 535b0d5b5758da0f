"""Words and numbers that people understand in more than one way: what may stand in their place."""

import re
from collections.abc import Sequence

from caseload.plans.frequency.cleaning import range_in

SCHOOL_MONTHS = 10
"""Months of a school year, so that every other month is five times. Common practice, no source."""

# What each word may stand for; the second pair where a count stands by.
_WORDS = {
    r"bi-?weekly": (("twice a week", "once every other week"), ("a week", "every 2 weeks")),
    r"bi-?monthly": (("twice a month", f"{SCHOOL_MONTHS // 2} times a year"),),
}


def alternatives_in(line: str) -> Sequence[Sequence[str]]:
    """The texts that a cleaned line may stand for, by groups of which the first with a reading counts."""
    found = range_in(line)
    if found:
        low, high = found["low"], found["high"]
        # "2-30 min" is also written for two sessions of thirty.
        return [[_instead(found, number) for number in (low, high, f"{low} x {high}", f"{low} {high}")]]
    for word, groups in _WORDS.items():
        if re.search(rf"\b{word}\b", line):
            return [[re.sub(rf"\b{word}\b", meaning, line) for meaning in group] for group in groups]
    return []


def _instead(found: re.Match[str], text: str) -> str:
    return f"{found.string[: found.start()]}{text}{found.string[found.end() :]}"
