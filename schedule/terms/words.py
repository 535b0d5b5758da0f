"""The times of a standing timetable in words. Pure."""

from schedule.calendar.starts import WEEKDAYS
from schedule.calendar.words import clock_words


def when_words(weekday: int | None, cycle_day: str, at: int) -> str:
    """``Tuesdays 9:30``, ``Day 3, 9:30``, ``Tuesdays of A weeks 9:30``."""
    if weekday is None:
        return f"{cycle_day}, {clock_words(at)}"
    days = f"{WEEKDAYS[weekday].capitalize()}s"
    return f"{days} of {cycle_day} weeks {clock_words(at)}" if cycle_day else f"{days} {clock_words(at)}"


def day_of_key(key: str) -> tuple[int | None, str]:
    """Weekday and cycle day of a kind of day, as ``schedule.calendar.starts.pattern_key`` writes it."""
    head, _, tail = key.rpartition(" ")
    if tail in WEEKDAYS:
        return WEEKDAYS.index(tail), head
    return None, key


def in_plain_words(sentence: str, key: str, at: int) -> str:
    """A sentence of the planner, with a standing time as people say it in place of its own "A monday 9:30"."""
    return sentence.replace(f"{key} {clock_words(at)}", when_words(*day_of_key(key), at), 1)
