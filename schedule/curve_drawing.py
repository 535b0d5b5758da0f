"""The drawing of driving against sessions moved: numbers only, for the template that writes the SVG."""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 340, 190
LEFT, RIGHT, TOP, BOTTOM = 52, 24, 34, 40


@dataclass(frozen=True, slots=True)
class Dot:
    """A point of the curve at its place, with its two figures."""

    x: float
    y: float
    moved: int
    driving: int


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
    steps = "".join(f"H{dot.x}V{dot.y}" for dot in dots[1:])
    return CurveDrawing(dots, f"M{dots[0].x} {dots[0].y}{steps}")
