"""Data of the demo's goals: four stories, the same on every machine.

Steady goes from one figure to the other in about twenty weeks, flat stays near the first, jumpy swings between
both, few has two points and no more.
"""

import datetime as dt
from collections.abc import Iterable, Iterator

from schedule.demo.happened import chance

WEEKS_TO_GO = 20
FEW = 2


def days_with_data(story: str, given: Iterable[dt.date]) -> list[dt.date]:
    """One day a week on which a session was given: the first of it."""
    weeks: dict[tuple[int, int], dt.date] = {}
    for day in sorted(given):
        weeks.setdefault(day.isocalendar()[:2], day)
    days = list(weeks.values())
    return days[:FEW] if story == "few" else days


def figures_of(
    story: str, first: float, last: float, days: Iterable[dt.date], what: str
) -> Iterator[tuple[dt.date, int]]:
    """Each day's figure, a whole number between the lower and the higher of both."""
    begun: dt.date | None = None
    for day in days:
        begun = begun or day
        share = min(1.0, (day - begun).days / (7 * WEEKS_TO_GO))
        swing = chance(f"{what} {day}", 5)
        yield day, round(first + (last - first) * _part(story, share, swing))


def _part(story: str, share: float, swing: int) -> float:
    """How much of the way from one figure to the other; `swing` is 0 to 4."""
    if story == "jumpy":
        return swing / 4
    if story == "flat":
        return (0.0, 0.0, 0.5, 0.5, 1.0)[swing]
    return min(1.0, max(0.0, share + (swing - 2) / 25))
