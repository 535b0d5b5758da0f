"""Dates and times as sentences say them. Pure."""

import datetime as dt


def date_words(date: dt.date) -> str:
    """``November 30, 2026``."""
    return f"{date:%B} {date.day}, {date.year}"


def span_words(first: dt.date, last: dt.date) -> str:
    """``November 30, 2026 to January 8, 2027``."""
    return f"{date_words(first)} to {date_words(last)}"


def week_words(monday: dt.date) -> str:
    """``the week of November 30, 2026``."""
    return f"the week of {date_words(monday)}"


def clock_words(minute: int) -> str:
    """A time of day as a school's clock shows it: 590 is ``9:50``, 785 is ``1:05``."""
    return f"{(minute // 60 - 1) % 12 + 1}:{minute % 60:02d}"
