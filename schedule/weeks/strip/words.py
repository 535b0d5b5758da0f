"""Texts of a drawing: clock times, and which label fits its box."""

from collections.abc import Iterable

NARROW, WIDE = frozenset("fijlrtI.,:;'·!|()[] "), frozenset("mwMW%@—")


def clock(minute: int) -> str:
    """A time of day as a school's clock shows it: ``615`` is ``10:15``, ``785`` is ``1:05``."""
    return f"{(minute // 60 - 1) % 12 + 1}:{minute % 60:02d}"


def text_width(text: str, font: float) -> float:
    """Width of a text in a bold system sans-serif, after the widest of the usual ones; in the unit of ``font``."""
    ems = 0.0
    for letter in text:
        if letter in NARROW:
            ems += 0.4
        elif letter in WIDE:
            ems += 1.05
        else:
            ems += 0.78 if letter.isupper() else 0.69
    return ems * font


def fitting(labels: Iterable[str], room: float, font: float) -> str:
    """The first label that fits the room; nothing if none does."""
    return next((label for label in labels if text_width(label, font) <= room), "")


def cut(text: str, room: float, font: float) -> str:
    """As much of a text as fits with an ellipsis after it; nothing if fewer than two letters would be left."""
    fits = fitting((f"{text[:count].rstrip()}…" for count in range(len(text) - 1, 1, -1)), room, font)
    return fits if len(fits) > 2 else ""
