"""Dates as sentences say them, on every floor. Pure."""

import datetime as dt


def date_words(date: dt.date) -> str:
    """``November 30, 2026``."""
    return f"{date:%B} {date.day}, {date.year}"


def day_words(date: dt.date) -> str:
    """``Monday, November 30, 2026``."""
    return f"{date:%A}, {date_words(date)}"


def short_date_words(date: dt.date) -> str:
    """``Nov 30, 2026``: for lists and where there is little room."""
    return f"{date:%b} {date.day}, {date.year}"


def span_words(first: dt.date, last: dt.date) -> str:
    """``November 30, 2026 to January 8, 2027``."""
    return f"{date_words(first)} to {date_words(last)}"


def is_within(day: dt.date, first: dt.date | None, last: dt.date | None) -> bool:
    """Whether a date lies in a span, both ends included; None is without that end."""
    return (first is None or first <= day) and (last is None or day <= last)
