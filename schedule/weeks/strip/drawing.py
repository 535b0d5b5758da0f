"""Put times and buildings on the drawing: lines, boxes and the teacher's path."""

from collections.abc import Sequence
from dataclasses import dataclass

from schedule.weeks.strip.shapes import (
    BlockKind,
    Box,
    Label,
    Stretch,
    StripBlock,
    StripDrive,
    StripLine,
    StripPlace,
    StripPoint,
    Target,
)
from schedule.weeks.strip.words import clock, cut, fitting, text_width

IDLE_FROM = 20
"""Shortest unfilled stay that is drawn as idle, in minutes."""
LONG_DRIVE = 20
"""Minutes at the wheel from which a drive is drawn heavy."""
MARK_ROOM = 24
"""What the mark of the setting and the edges take of a session's box."""
PIN_ROOM = 12
"""For the sign of a pinned session in its corner."""
TWO_LINES = 33
"""Height from which a box holds two lines."""
GENEROUS = 1.3
"""Widths of texts are guessed rather too wide: a name is cut only if it is so many times its room."""
NAME_ROOM = 124
"""For a building's name at the left of its line."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Measures of a drawing, in its own units.

    ``down``: time runs down and lines stand upright. ``thickness`` of a block, across its line. ``lane``: least
    distance of two lines, ``stretch``: most that the road between them adds. ``pad``: from the edge of a day to
    its outer lines. ``least``: least height of a day. ``per_minute``: units a minute where time runs down.
    """

    down: bool
    width: float
    left: float
    right: float
    top: float
    bottom: float
    font: float
    thickness: float = 0.0
    lane: float = 0.0
    stretch: float = 0.0
    pad: float = 0.0
    least: float = 0.0
    per_minute: float = 0.0


@dataclass(frozen=True, slots=True)
class Scale:
    """Minutes to units along the time axis."""

    first: int
    last: int
    start: float
    end: float

    def at(self, minute: int) -> float:
        """Where a minute lies."""
        return round(self.start + (minute - self.first) / (self.last - self.first) * (self.end - self.start), 2)


def column_width(frame: Frame, count: int) -> float:
    """Width for each of `count` buildings where lines stand upright."""
    return (frame.width - frame.left - frame.right) / max(count, 1)


@dataclass(frozen=True, slots=True)
class Drawing:
    """One day's drawing; `levels` holds where each building's line lies, the spare one under an empty key.

    Where the day isn't `whole`, nothing is said about the time between its parts.
    """

    frame: Frame
    scale: Scale
    levels: dict[str, float]
    thickness: float
    whole: bool = True

    def point(self, minute: int, place: str) -> StripPoint:
        """A moment at a building."""
        along, across = self.scale.at(minute), self.level(place)
        return StripPoint(across, along) if self.frame.down else StripPoint(along, across)

    def level(self, place: str) -> float:
        """A building's line; the spare one for a building without."""
        if place in self.levels:
            return self.levels[place]
        return self.levels.get("", next(iter(self.levels.values()), 0.0))

    def line(self, place: StripPlace) -> StripLine:
        """A building's line with the fullest of its names that has room."""
        start, end = self.point(self.scale.first, place.key), self.point(self.scale.last, place.key)
        room = column_width(self.frame, len(self.levels)) - 6 if self.frame.down else NAME_ROOM
        shortest, font, at_most = place.labels[-1], self.frame.font, GENEROUS * room
        text = fitting(place.labels, room, font) or fitting((shortest,), at_most, font)
        text = text or cut(shortest, at_most, font) or shortest
        if self.frame.down:
            return StripLine(start, end, Label(start.x, self.frame.top - 12, text), place.name)
        return StripLine(start, end, Label(self.frame.left - 12, start.y, text, "end"), place.name)

    def spare_line(self) -> StripLine:
        """The line for targets in buildings that the day doesn't visit."""
        start, end = self.point(self.scale.first, ""), self.point(self.scale.last, "")
        label = Label(self.frame.left - 12, start.y, "elsewhere", "end")
        return StripLine(start, end, label, "Another building", spare=True)

    def block(self, block: StripBlock) -> Box[StripBlock]:
        """A block as a box. A session shows its start beside its mark and its label below, if it is high enough."""
        x, y, width, height = self._rectangle(block.start, block.end, block.place)
        session = block.kind is BlockKind.SESSION
        two_lines = session and height >= TWO_LINES
        text = self._text(
            block.labels, width - (8 if two_lines or not session else MARK_ROOM), height, cut_off=session
        )
        beside = width - MARK_ROOM - (PIN_ROOM if block.pinned else 0)
        above = fitting([clock(block.start)], beside, self.frame.font) if two_lines else ""
        return Box(x, y, width, height, text, block, two_lines, above)

    def target(self, target: Target) -> Box[Target]:
        """A target as a box; on the building's own line the building need not be named."""
        x, y, width, height = self._rectangle(target.start, target.end, target.place)
        labels = target.labels[1:] if target.place in self.levels else target.labels
        return Box(x, y, width, height, self._text(labels, width - 4, height), target)

    def _text(self, labels: Sequence[str], room: float, height: float, *, cut_off: bool = False) -> str:
        """The fullest label that fits, else nothing or (`cut_off`) the beginning of the shortest."""
        if height < self.frame.font or not labels:
            return ""
        found = fitting(labels, room, self.frame.font)
        return found or (cut(labels[-1], room, self.frame.font) if cut_off else "")

    def _rectangle(self, starts: int, ends: int, place: str) -> tuple[float, float, float, float]:
        start, end = self.point(starts, place), self.point(ends, place)
        half = self.thickness / 2
        if self.frame.down:
            x, y, width, height = start.x - half, start.y, self.thickness, end.y - start.y
        else:
            x, y, width, height = start.x, start.y - half, end.x - start.x, self.thickness
        return round(x, 2), round(y, 2), round(width, 2), round(height, 2)

    def path(self, blocks: Sequence[StripBlock], drives: Sequence[StripDrive]) -> tuple[Stretch, ...]:
        """The teacher's way through the day, piece by piece, past what doesn't take place."""
        pieces: list[Stretch] = []
        at, where = -1, ""
        for event in _in_order([block for block in blocks if not block.off], drives):
            if self.whole and 0 <= at < event.start:
                pieces.append(self._waiting(at, event.start, where))
            if isinstance(event, StripDrive):
                pieces += self._driven(event)
                where = event.destination
            else:
                pieces.append(
                    Stretch(self.point(event.start, event.place), self.point(event.end, event.place), "busy")
                )
                where = event.place
            at = max(at, event.end)
        return tuple(pieces)

    def _waiting(self, start: int, end: int, place: str) -> Stretch:
        """Time at a building with nothing in it."""
        first, last = self.point(start, place), self.point(end, place)
        minutes = end - start
        if minutes < IDLE_FROM:
            return Stretch(first, last, "busy")
        spoken = f"{clock(start)} to {clock(end)}: nothing planned"
        if not self.frame.down:
            text = fitting((f"{minutes} min free", f"{minutes} free"), last.x - first.x, self.frame.font)
            label = Label((first.x + last.x) / 2, first.y - 8, text or f"{minutes}")
            return Stretch(first, last, "idle", label, spoken)
        text, middle = f"{minutes} free", (first.y + last.y) / 2
        if first.x + 8 + text_width(text, self.frame.font) > self.frame.width:
            return Stretch(first, last, "idle", Label(first.x - 8, middle, text, "end"), spoken)
        return Stretch(first, last, "idle", Label(first.x + 8, middle, text, "start"), spoken)

    def _wheel_ends(self, drive: StripDrive) -> tuple[StripPoint, StripPoint]:
        """Where the car leaves and where it stops."""
        off = min(drive.start + drive.leave, drive.end)
        return self.point(off, drive.origin), self.point(min(off + drive.wheel, drive.end), drive.destination)

    def _driven(self, drive: StripDrive) -> tuple[Stretch, ...]:
        """Packing up, the drive, parking and signing in."""
        off, on = self._wheel_ends(drive)
        middle = Label((off.x + on.x) / 2, (off.y + on.y) / 2, f"{drive.wheel}")
        return (
            Stretch(self.point(drive.start, drive.origin), off, "parking"),
            Stretch(off, on, "drive", middle, drive.spoken, heavy=drive.wheel >= LONG_DRIVE),
            Stretch(on, self.point(drive.end, drive.destination), "parking"),
        )


def _in_order(blocks: Sequence[StripBlock], drives: Sequence[StripDrive]) -> list[StripBlock | StripDrive]:
    events: list[StripBlock | StripDrive] = [*blocks, *drives]
    return sorted(events, key=lambda one: (one.start, one.end))
