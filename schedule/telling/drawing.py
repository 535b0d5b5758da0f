"""A goal's chart and data as a report shows them, kept with it once it is signed. Pure."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter

from caseload.progress.chart import GoalChart


@dataclass(frozen=True, slots=True)
class PointTold:
    """What was seen once, in words, and who took it."""

    day: dt.date
    words: str
    who: str


@dataclass(frozen=True, slots=True)
class GoalDrawing:
    """The chart of one goal with its words for who can't see it, and the data, the latest first.

    ``unit``: what the chart's figures are of.
    """

    chart: GoalChart | None
    chart_words: str
    unit: str
    points: tuple[PointTold, ...]


_DRAWINGS = TypeAdapter(dict[int, GoalDrawing])


def drawings_from_json(plain: Any) -> dict[int, GoalDrawing]:
    """Drawings by the goal's id, from what was kept when a report was signed (``dataclasses.asdict`` as JSON)."""
    return _DRAWINGS.validate_python(plain)
