"""The drawing of driving against sessions moved: numbers only, for the template that writes the SVG."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

WIDTH, HEIGHT = 340, 190
LEFT, RIGHT, TOP, BOTTOM = 52, 24, 34, 40
ROOM_ACROSS, ROOM_DOWN = 20, 13
"""What a figure of two digits needs beside another, and below it."""


@dataclass(frozen=True, slots=True)
class Dot:
    """A point of the curve at its place, with its two figures, and which of them have room on their axis."""

    x: float
    y: float
    moved: int
    driving: int
    names_moved: bool = True
    names_driving: bool = True


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    """A stepped line through dots: between two of them the driving is that of the left one."""

    dots: tuple[Dot, ...]
    path: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    floor: int = HEIGHT - BOTTOM
    right: int = WIDTH - RIGHT
    middle: int = (LEFT + WIDTH - RIGHT) // 2


def curve_drawing(points: Sequence[tuple[int, int]]) -> CurveDrawing | None:
    """(sessions moved, minutes of driving) in order, drawn; ``None`` for fewer than two points."""
    if len(points) < 2:
        return None
    moved = [one for one, _ in points]
    driving = [one for _, one in points]

    def along(value: int, values: Sequence[int], first: int, last: int) -> float:
        share = (value - min(values)) / max(1, max(values) - min(values))
        return round(first + share * (last - first), 1)

    dots = tuple(
        Dot(along(one, moved, LEFT + 8, WIDTH - RIGHT), along(of, driving, HEIGHT - BOTTOM - 10, TOP), one, of)
        for one, of in points
    )
    wide = _with_room([dot.x for dot in dots], ROOM_ACROSS)
    high = _with_room([dot.y for dot in dots], ROOM_DOWN)
    dots = tuple(
        replace(dot, names_moved=one, names_driving=other) for dot, one, other in zip(dots, wide, high, strict=True)
    )
    steps = "".join(f"H{dot.x}V{dot.y}" for dot in dots[1:])
    return CurveDrawing(dots, f"M{dots[0].x} {dots[0].y}{steps}")


def _with_room(places: Sequence[float], room: float) -> list[bool]:
    """Which figures can be written without touching another: both ends, and those between that are far enough."""
    last = places[-1]
    named: list[bool] = []
    written = places[0] - room
    for number, place in enumerate(places):
        at_an_end = number in {0, len(places) - 1}
        named.append(at_an_end or (place - written >= room and last - place >= room))
        written = place if named[-1] else written
    return named
