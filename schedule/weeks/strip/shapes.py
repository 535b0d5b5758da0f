"""What goes into a strip (days, blocks, drives, targets) and what comes out (rows, lines, boxes, stretches)."""

from dataclasses import dataclass
from enum import StrEnum


class BlockKind(StrEnum):
    """What fills a stretch of time at a building."""

    SESSION = "session"
    LUNCH = "lunch"
    PREPARATION = "preparation"
    MEETING = "meeting"


@dataclass(frozen=True, slots=True)
class StripPlace:
    """A building. ``along`` is its distance along the road from the first one, in miles (see ``road``).

    ``labels`` go from the full name to the shortest that still tells it from the others.
    """

    key: str
    name: str
    labels: tuple[str, ...]
    along: float


@dataclass(frozen=True, slots=True)
class StripBlock:
    """A stretch of time at a place (empty: wherever the teacher is then).

    ``labels`` go from the fullest to the shortest; ``spoken`` is the whole of it in words. ``chosen``: the one
    that is looked at or being moved. ``off``: it doesn't take place.
    """

    kind: BlockKind
    start: int
    end: int
    place: str
    labels: tuple[str, ...]
    spoken: str
    key: str = ""
    setting: str = ""
    pinned: bool = False
    href: str = ""
    chosen: bool = False
    off: bool = False


@dataclass(frozen=True, slots=True)
class StripDrive:
    """From packing up to being signed in; ``wheel`` minutes of it at the wheel, after ``leave`` of packing up."""

    start: int
    end: int
    origin: str
    destination: str
    wheel: int
    leave: int
    spoken: str


@dataclass(frozen=True, slots=True)
class Target:
    """Where the session that is being moved could go.

    The first of ``labels`` names the building. ``value`` is what a form sends; ``warns``: it would break a rule.
    """

    key: str
    start: int
    end: int
    place: str
    labels: tuple[str, ...]
    spoken: str
    href: str = ""
    value: str = ""
    warns: bool = False


@dataclass(frozen=True, slots=True)
class StripDay:
    """One day: what is drawn in it and the words beside it.

    ``hours``: start and end of the contract day. ``nothing`` says why an empty day is empty. ``whole``: nothing
    of the day is left out, so that a gap is a gap.
    """

    key: str
    name: str
    date: str
    notes: tuple[str, ...] = ()
    blocks: tuple[StripBlock, ...] = ()
    drives: tuple[StripDrive, ...] = ()
    targets: tuple[Target, ...] = ()
    nothing: str = ""
    hours: tuple[int, int] | None = None
    whole: bool = True


@dataclass(frozen=True, slots=True)
class StripPoint:
    """A place on the drawing."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Label:
    """A text at a point; ``anchor`` (start, middle or end) is the part of the text that is there."""

    x: float
    y: float
    text: str
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Box[S: (StripBlock, Target)]:
    """A rectangle and what it stands for; ``text`` is the fullest label that fits, or nothing.

    ``two_lines``: high enough for a second one; ``above`` is then the start time, if it has room.
    """

    x: float
    y: float
    width: float
    height: float
    text: str
    source: S
    two_lines: bool = False
    above: str = ""

    @property
    def spoken(self) -> str:
        """All of it in words, with the words that are seen first, as whoever speaks to the page calls it."""
        seen = " ".join(filter(None, [self.above, self.text]))
        return f"{seen}: {self.source.spoken}" if seen else self.source.spoken

    @property
    def middle_x(self) -> float:
        """Across, the middle."""
        return self.x + self.width / 2

    @property
    def middle_y(self) -> float:
        """Down, the middle."""
        return self.y + self.height / 2

    @property
    def right(self) -> float:
        """Across, the far edge."""
        return self.x + self.width


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight piece of the teacher's path.

    ``kind``: ``busy``, ``idle`` (nothing to do), ``parking`` (packing up, parking, signing in) or ``drive``.
    """

    start: StripPoint
    end: StripPoint
    kind: str
    label: Label | None = None
    spoken: str = ""
    heavy: bool = False


@dataclass(frozen=True, slots=True)
class StripLine:
    """A building's line on one day. ``spare``: kept free for a building that isn't visited that day."""

    start: StripPoint
    end: StripPoint
    label: Label
    name: str
    spare: bool = False


@dataclass(frozen=True, slots=True)
class StripRow:
    """One day of the drawing. ``hours``: the contract day as first point and length along the time axis."""

    day: StripDay
    top: float
    height: float
    lines: tuple[StripLine, ...]
    path: tuple[Stretch, ...]
    boxes: tuple[Box[StripBlock], ...]
    targets: tuple[Box[Target], ...]
    hours: tuple[float, float] | None = None

    @property
    def bottom(self) -> float:
        """Down, the far edge."""
        return self.top + self.height

    @property
    def middle(self) -> float:
        """Down, the middle."""
        return self.top + self.height / 2


@dataclass(frozen=True, slots=True)
class StripTick:
    """A full hour (or a half) on the time axis; ``at`` lies across for a week, down for a single day."""

    at: float
    text: str
    full: bool


@dataclass(frozen=True, slots=True)
class Strip:
    """The whole drawing."""

    width: float
    height: float
    plot_left: float
    plot_top: float
    plot_bottom: float
    ticks: tuple[StripTick, ...]
    rows: tuple[StripRow, ...]
