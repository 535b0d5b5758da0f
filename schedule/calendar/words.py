"""Dates and times as sentences say them. Pure."""

import datetime as dt
from collections.abc import Sequence

from accounts.dates import date_words


def week_words(monday: dt.date) -> str:
    """``the week of November 30, 2026``."""
    return f"the week of {date_words(monday)}"


def clock_words(minute: int) -> str:
    """A time of day as a school's clock shows it: 590 is ``9:50``, 785 is ``1:05``."""
    return f"{(minute // 60 - 1) % 12 + 1}:{minute % 60:02d}"


def period_words(names: Sequence[str]) -> str:
    """Periods inside a sentence: ``period 2``, ``periods 2 and 4``, ``Advisory and Block 1``."""
    short = [name.strip().removeprefix("Period ") for name in names]
    if any(len(name) > 2 for name in short):
        return listed(names)
    return f"{'period' if len(short) == 1 else 'periods'} {listed(short)}"


def period_title(name: str) -> str:
    """One period on its own: ``3`` and ``Period 3`` are ``Period 3``, ``Advisory`` stays; empty for none."""
    words = period_words([name]) if name.strip() else ""
    return words[:1].upper() + words[1:]


def listed(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))
