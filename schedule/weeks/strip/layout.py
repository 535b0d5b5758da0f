"""Lay a week or a day out: the height of each day, the lines in it, the axis."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from schedule.weeks.strip.drawing import Drawing, Frame, Scale, column_width
from schedule.weeks.strip.shapes import Strip, StripBlock, StripDay, StripDrive, StripPlace, StripRow, StripTick
from schedule.weeks.strip.words import clock

DAY_STARTS, DAY_ENDS = 8 * 60, 15 * 60
"""What the time axis of a week shows at the least."""

WEEK = Frame(
    down=False,
    width=1240,
    left=226,
    right=14,
    top=28,
    bottom=24,
    thickness=34,
    lane=42,
    stretch=12,
    pad=30,
    font=11.5,
    least=96,
)
"""For a wide screen."""
WALL = replace(WEEK, thickness=17, lane=19, stretch=3, pad=10, least=84)
"""For paper: a week and its table on one landscape page."""
DAY = Frame(down=True, width=360, left=46, right=4, top=34, bottom=12, font=11.5, per_minute=1.8)
"""For a narrow screen."""

NAME_HEIGHT, NOTE_HEIGHT = 40.0, 16.0
"""What the name of a day and each note under it take, where the template draws them."""


@dataclass(frozen=True, slots=True)
class _Levels:
    """Where each building's line lies, and how much the day takes up across its lines."""

    at: dict[str, float]
    height: float


def week_strip(
    days: Sequence[StripDay], places: Sequence[StripPlace], frame: Frame = WEEK, *, spare: bool = False
) -> Strip:
    """One row a day, time running across. ``spare`` keeps an empty line a day for targets in other buildings."""
    first, last = _shown_times(days, DAY_STARTS, DAY_ENDS)
    scale = Scale(first, last, frame.left, frame.width - frame.right)
    rows: list[StripRow] = []
    top = frame.top
    for day in days:
        row = _row(day, places, frame, scale, top, spare=spare)
        rows.append(row)
        top = row.bottom
    return Strip(
        width=frame.width,
        height=top + frame.bottom,
        plot_left=frame.left,
        plot_top=frame.top,
        plot_bottom=top,
        ticks=_ticks(scale),
        rows=tuple(rows),
    )


def day_strip(day: StripDay, places: Sequence[StripPlace]) -> Strip:
    """One day, time running down, a column a building."""
    first, last = _shown_times([day])
    bottom = DAY.top + (last - first) * DAY.per_minute
    scale = Scale(first, last, DAY.top, bottom)
    row = _row(day, places, DAY, scale, DAY.top, spare=False)
    return Strip(
        width=DAY.width,
        height=bottom + DAY.bottom,
        plot_left=DAY.left,
        plot_top=DAY.top,
        plot_bottom=bottom,
        ticks=_ticks(scale),
        rows=(row,),
    )


def _spans(day: StripDay) -> Iterator[tuple[int, int]]:
    """First and last minute of everything that happens on a day."""
    yield from ((block.start, block.end) for block in day.blocks)
    yield from ((drive.start, drive.end) for drive in day.drives)
    yield from ((target.start, target.end) for target in day.targets)


def _shown_times(
    days: Sequence[StripDay], earliest: int | None = None, latest: int | None = None
) -> tuple[int, int]:
    """First and last minute shown: everything that happens, widened to half hours."""
    spans = [span for day in days for span in _spans(day)]
    if earliest is not None and latest is not None:
        spans.append((earliest, latest))
    if not spans:
        return DAY_STARTS, DAY_ENDS
    return min(start for start, _ in spans) // 30 * 30, -(-max(end for _, end in spans) // 30) * 30


def _ticks(scale: Scale) -> tuple[StripTick, ...]:
    return tuple(
        StripTick(scale.at(minute), clock(minute) if minute % 60 == 0 else "", minute % 60 == 0)
        for minute in range(scale.first, scale.last + 1, 30)
    )


def _row(
    day: StripDay, places: Sequence[StripPlace], frame: Frame, scale: Scale, top: float, *, spare: bool
) -> StripRow:
    """Lay one day out: its lines first, then what lies on them."""
    stays = settled(day)
    here = [place for place in places if place.key in _visited(day, stays, frame)]
    empty = max(2 * frame.pad, NAME_HEIGHT + NOTE_HEIGHT * len(day.notes))
    levels = _columns(here, frame, scale) if frame.down else _lanes(here, frame, top, empty, spare=spare)
    thickness = column_width(frame, len(here)) - 10 if frame.down else frame.thickness
    draw = Drawing(frame, scale, levels.at, thickness, day.whole)
    return StripRow(
        day=day,
        top=top,
        height=levels.height,
        lines=tuple(draw.line(place) for place in here) + ((draw.spare_line(),) if spare else ()),
        path=draw.path(stays, day.drives),
        boxes=tuple(draw.block(block) for block in stays),
        targets=tuple(draw.target(target) for target in day.targets),
        hours=_hours(day, scale),
    )


def _hours(day: StripDay, scale: Scale) -> tuple[float, float] | None:
    """The part of the contract day that is shown."""
    if day.hours is None:
        return None
    start, end = (min(max(minute, scale.first), scale.last) for minute in day.hours)
    return scale.at(start), round(scale.at(end) - scale.at(start), 2)


def _visited(day: StripDay, stays: Sequence[StripBlock], frame: Frame) -> set[str]:
    """Buildings that get a line: where the teacher goes, and in a single day where the session could go too."""
    visited = {block.place for block in stays}
    for drive in day.drives:
        visited |= {drive.origin, drive.destination}
    if frame.down:
        visited |= {target.place for target in day.targets}
    return visited


def settled(day: StripDay) -> tuple[StripBlock, ...]:
    """The blocks in time order, those without a place put where the teacher is then."""
    ordered = sorted(day.blocks, key=lambda one: (one.start, one.end, one.key))
    return tuple(
        block if block.place else replace(block, place=_whereabouts(day, block.start)) for block in ordered
    )


def _whereabouts(day: StripDay, minute: int) -> str:
    """Where the teacher is at a time: the last place reached, else the first one named; empty if none is."""
    reached = sorted(_reached(day))
    before = [place for at, place in reached if at <= minute]
    if before:
        return before[-1]
    left = sorted((drive.start, drive.origin) for drive in day.drives)
    return min([*left[:1], *reached[:1]])[1] if left or reached else ""


def _reached(day: StripDay) -> list[tuple[int, str]]:
    drives: Sequence[StripDrive] = day.drives
    return [(drive.end, drive.destination) for drive in drives] + [
        (block.start, block.place) for block in day.blocks if block.place
    ]


def _columns(here: Sequence[StripPlace], frame: Frame, scale: Scale) -> _Levels:
    """Upright lines, evenly spread."""
    width = column_width(frame, len(here))
    at = {place.key: round(frame.left + (n + 0.5) * width, 2) for n, place in enumerate(here)}
    return _Levels(at, scale.end - scale.start)


def _lanes(here: Sequence[StripPlace], frame: Frame, top: float, empty: float, *, spare: bool) -> _Levels:
    """Level lines; two buildings far apart get lines further apart. ``empty``: height of a day without any."""
    offsets: dict[str, float] = {}
    at = frame.pad
    for before, place in zip([None, *here], here, strict=False):
        if before is not None:
            at += frame.lane + min(frame.stretch, max(0.0, place.along - before.along))
        offsets[place.key] = at
    if spare:
        at += frame.lane if here else 0.0
        offsets[""] = at
    if not offsets:
        return _Levels({}, empty)
    height = max(at + frame.pad, frame.least)
    lift = (height - at - frame.pad) / 2
    return _Levels({key: round(top + lift + offset, 2) for key, offset in offsets.items()}, height)
