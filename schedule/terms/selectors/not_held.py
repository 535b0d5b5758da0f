"""Which of a term's planned days won't be as planned, as the one place decides it that weeks and feeds ask, too."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from accounts.dates import day_words
from schedule.terms.data import NotHeldView
from schedule.weeks.day_shape import DayShape, day_off_words
from schedule.weeks.day_truth import SESSION, Off, Part, off_words
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import part_of, shapes_of
from travel.places.models import Building


def not_held(weeks: Sequence[WeekPlan]) -> dict[int, tuple[NotHeldView, ...]]:
    """By week, the days on which planned sessions don't take place as things stand; of weeks of one teacher.

    The number of queries doesn't grow with the weeks.
    """
    if not weeks:
        return {}
    parts, week_of = defaultdict[dt.date, list[Part]](list), dict[dt.date, int]()
    for rows in (PlannedSession.objects.filter(week__in=weeks), DayItem.objects.filter(week__in=weeks)):
        for row in rows:
            parts[row.date].append(part_of(row))
            week_of[row.date] = row.week_id
    shapes = shapes_of(weeks[0].teacher, parts)
    names = _names(shapes.values())
    found: dict[int, list[NotHeldView]] = {}
    for date in sorted(shapes):
        gone = _sessions_off(parts[date], shapes[date])
        if gone:
            found.setdefault(week_of[date], []).append(_view(date, shapes[date], gone, names))
    return {week: tuple(days) for week, days in found.items()}


def _sessions_off(day: Sequence[Part], shape: DayShape) -> list[Off]:
    """Why each session that doesn't take place doesn't."""
    return [off for at, off in shape.off.items() if day[at].kind == SESSION]


def _view(date: dt.date, shape: DayShape, gone: Sequence[Off], names: Mapping[int, str]) -> NotHeldView:
    whole = day_off_words(shape, names)
    if whole:
        return NotHeldView(date, len(gone), f"{day_words(date)}: {whole}", whole_day=True)
    reasons = " and ".join(sorted({off_words(one, names) for one in gone}))
    sessions = "1 session does" if len(gone) == 1 else f"{len(gone)} sessions do"
    return NotHeldView(
        date, len(gone), f"{day_words(date)}: {sessions} not take place: {reasons}.", whole_day=False
    )


def _names(shapes: Iterable[DayShape]) -> dict[int, str]:
    ids = {off.building for shape in shapes for off in _offs(shape) if off.building is not None}
    return {row.pk: row.name for row in Building.objects.filter(pk__in=ids)} if ids else {}


def _offs(shape: DayShape) -> Iterator[Off]:
    yield from shape.off.values()
    yield from shape.left_out.values()
