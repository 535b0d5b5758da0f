"""A map of buildings and the drives between them, drawn by ourselves: no tile server, nothing sent out.

Pure. Coordinates in degrees (WGS84) become units of the drawing by the equirectangular projection around the middle
latitude: x grows with longitude times its cosine, y with latitude. Over a county (within about 50 miles) lengths
are right within a few tenths of a percent, which a line on a screen doesn't show.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from travel.roads.base import METERS_A_MILE, Point
from travel.roads.tiles import Tile, TileLayer, tiles_over, zoom_for

WIDE, NARROW = 800.0, 380.0
"""Width of the drawing for a desk and for a phone, in its units; letters are as large in both."""
MARGIN = 56.0
TALLEST, LOWEST = 720.0, 320.0
"""Height of the drawing at most and at least."""
DOT = 7.0
LETTER = 7.4
"""Width of a letter at the drawing's font size (13 units), on the wide side."""
LINE_HEIGHT = 16.0
THINNEST, THICKEST = 2.5, 14.0
METERS_A_DEGREE = 111_195.0
"""Of latitude: a quarter meridian over 90, by the mean radius of 6371 km."""
SCALE_STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
"""Miles that a scale bar may stand for."""


@dataclass(frozen=True, slots=True)
class MapPlace:
    """A building on the map; `visited`: the drives that are shown go there. `label`: what is written beside its dot
    where its name is too long for that."""

    key: int
    name: str
    point: Point
    visited: bool = True
    label: str = ""


@dataclass(frozen=True, slots=True)
class MapLeg:
    """Drives between two places, both ways together; `way` follows the road, or is empty for a straight line.

    `trips` sets the width; `spoken` is what one hears or hovers for.
    """

    origin: int
    destination: int
    trips: int
    spoken: str
    way: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Spot:
    """A building's dot, and where its label stands; `anchor` is the part of the label that is there."""

    key: int
    name: str
    label: str
    x: float
    y: float
    label_x: float
    label_y: float
    anchor: str
    visited: bool


@dataclass(frozen=True, slots=True)
class Path:
    """A drive as an SVG path."""

    d: str
    width: float
    spoken: str
    straight: bool


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """Its left end, its length and what that stands for."""

    x: float
    y: float
    length: float
    text: str

    @property
    def d(self) -> str:
        """As SVG path data, with a mark at each end."""
        return f"M{self.x:g} {self.y - 6:g}v6h{self.length:g}v-6"

    @property
    def text_y(self) -> float:
        """Where its words stand."""
        return self.y - 10


@dataclass(frozen=True, slots=True)
class Picture:
    """A tile below the lines, and where it lies.

    Tiles are drawn in Web Mercator and this map is not, so each is stretched between its own corners: within a tile
    of a map of 50 miles the two differ by a few meters.
    """

    address: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class RoadMap:
    """The drawing. North is up."""

    width: float
    height: float
    paths: tuple[Path, ...]
    spots: tuple[Spot, ...]
    scale: ScaleBar
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class Projection:
    """Degrees to units of the drawing."""

    west: float
    north: float
    shrink: float
    units: float
    left: float
    top: float

    def at(self, point: Point) -> tuple[float, float]:
        """Where a point lies."""
        x = self.left + (point.longitude - self.west) * self.shrink * self.units
        return round(x, 1), round(self.top + (self.north - point.latitude) * self.units, 1)

    def back(self, x: float, y: float) -> Point:
        """Which point lies there; the edge of the world beyond it."""
        longitude = self.west + (x - self.left) / (self.shrink * self.units)
        latitude = self.north - (y - self.top) / self.units
        return Point(max(-90.0, min(90.0, latitude)), max(-180.0, min(180.0, longitude)))

    @property
    def units_a_mile(self) -> float:
        """Units of the drawing for a mile."""
        return self.units * float(METERS_A_MILE) / METERS_A_DEGREE


def _ways(by_key: Mapping[int, MapPlace], legs: Iterable[MapLeg]) -> dict[MapLeg, Sequence[Point]]:
    """The points along each leg between places that are drawn; straight where no road is known."""
    drawn = [leg for leg in legs if leg.origin in by_key and leg.destination in by_key]
    return {leg: leg.way or (by_key[leg.origin].point, by_key[leg.destination].point) for leg in drawn}


def draw_map(
    places: Sequence[MapPlace], legs: Sequence[MapLeg], width: float = WIDE, ground: TileLayer | None = None
) -> RoadMap | None:
    """The drawing, or None where no place has coordinates. Legs to places that aren't drawn are left out.

    `ground` is drawn below the lines, where it has tiles of this size.
    """
    if not places:
        return None
    ways = _ways({place.key: place for place in places}, legs)
    frame = _fit([*(place.point for place in places), *(one for way in ways.values() for one in way)], width)
    projection = frame.projection
    most = max((leg.trips for leg in ways), default=1)
    # The busiest first: a thin line that shares its road with a thick one stays visible on top of it.
    paths = [
        Path(_path(projection, ways[leg]), width_of(leg.trips, most), leg.spoken, straight=not leg.way)
        for leg in sorted(ways, key=lambda leg: -leg.trips)
    ]
    spots = _spots(frame, places, _crossed(projection, ways.values()))
    return RoadMap(width, frame.height, tuple(paths), spots, _scale(frame), _pictures(frame, ground))


def width_of(trips: int, most: int) -> float:
    """Width of a line: it grows evenly with the trips, from the thinnest that is seen well."""
    return round(THINNEST + (THICKEST - THINNEST) * (trips / most if most > 1 else 0.3), 1)


@dataclass(frozen=True, slots=True)
class _Frame:
    """The drawing's size and how the world lies in it."""

    width: float
    height: float
    projection: Projection

    @property
    def furniture(self) -> tuple["Box", ...]:
        """Where the north arrow and the scale bar stand."""
        return (0.0, 0.0, 48.0, 70.0), (0.0, self.height - 50, 16 + self.width / 4, self.height)


def _fit(points: Sequence[Point], width: float) -> _Frame:
    """A projection that shows every point, and the height that it needs."""
    south, north = min(p.latitude for p in points), max(p.latitude for p in points)
    west, east = min(p.longitude for p in points), max(p.longitude for p in points)
    shrink = max(math.cos(math.radians((south + north) / 2)), 0.01)
    # One building alone, or all in one street: show about half a mile around.
    across = max((east - west) * shrink, 0.01)
    down = max(north - south, 0.01)
    units = min((width - 2 * MARGIN) / across, (TALLEST - 2 * MARGIN) / down)
    height = max(down * units + 2 * MARGIN, LOWEST)
    left = (width - (east - west) * shrink * units) / 2
    top = (height - (north - south) * units) / 2
    return _Frame(width, round(height, 1), Projection(west, north, shrink, units, left, top))


def _pictures(frame: _Frame, ground: TileLayer | None) -> tuple[Picture, ...]:
    """The tiles that cover the whole drawing, about as large as they are made."""
    if ground is None:
        return ()
    projection = frame.projection
    zoom = zoom_for(projection.shrink * projection.units)
    tiles = tiles_over(ground, projection.back(0, 0), projection.back(frame.width, frame.height), zoom)
    return tuple(_picture(projection, tile) for tile in tiles)


def _picture(projection: Projection, tile: Tile) -> Picture:
    (left, top), (right, bottom) = projection.at(tile.north_west), projection.at(tile.south_east)
    return Picture(tile.address, left, top, round(right - left, 1), round(bottom - top, 1))


def _path(projection: Projection, way: Sequence[Point]) -> str:
    """SVG path data; points that lie on top of each other are left out."""
    spots = [projection.at(point) for point in way]
    kept = spots[:1] + [there for here, there in pairwise(spots) if there != here]
    return "M" + " L".join(f"{x:g} {y:g}" for x, y in kept)


def _scale(frame: _Frame) -> ScaleBar:
    """The longest of the steps that takes at most a quarter of the width."""
    unit = frame.projection.units_a_mile
    fitting = [step for step in SCALE_STEPS if step * unit <= frame.width / 4]
    miles = fitting[-1] if fitting else SCALE_STEPS[0]
    length = round(miles * unit, 1)
    return ScaleBar(16.0, round(frame.height - 20, 1), length, f"{miles:g} mile{'' if miles == 1 else 's'}")


type Box = tuple[float, float, float, float]


def _crossed(projection: Projection, ways: Iterable[Sequence[Point]]) -> list[Box]:
    """The spots that lines run through."""
    return [spot for way in ways for spot in _along([projection.at(point) for point in way])]


def _along(spots: Sequence[tuple[float, float]]) -> Iterable[Box]:
    """Small boxes all along a line: a name on top of it is harder to read."""
    half = THINNEST
    for (x, y), (to_x, to_y) in pairwise(spots):
        steps = max(1, round(math.dist((x, y), (to_x, to_y)) / (4 * half)))
        for step in range(steps):
            at_x, at_y = x + (to_x - x) * step / steps, y + (to_y - y) * step / steps
            yield at_x - half, at_y - half, at_x + half, at_y + half


def _spots(frame: _Frame, places: Sequence[MapPlace], lines: Sequence[Box]) -> tuple[Spot, ...]:
    """Each name at that of eight sides where it hides least; visited places choose first."""
    at = {place.key: frame.projection.at(place.point) for place in places}
    taken: list[Box] = [*frame.furniture, *((x - DOT, y - DOT, x + DOT, y + DOT) for x, y in at.values())]
    found = []
    for place in sorted(places, key=lambda one: (not one.visited, one.name)):
        x, y = at[place.key]
        label = place.label or place.name
        sides = list(_sides(x, y, len(label) * LETTER))
        best = min(range(len(sides)), key=lambda n: (round(_hidden(sides[n][3], taken, lines, frame)), n))
        label_x, label_y, anchor, box = sides[best]
        taken.append(box)
        at_label = round(label_x, 1), round(label_y, 1)
        found.append(Spot(place.key, place.name, label, x, y, *at_label, anchor, place.visited))
    return tuple(found)


def _sides(x: float, y: float, width: float) -> Iterable[tuple[float, float, str, Box]]:
    gap, up = DOT + 5, LINE_HEIGHT
    yield x + gap, y + 4.5, "start", (x + gap, y - up / 2, x + gap + width, y + up / 2)
    yield x - gap, y + 4.5, "end", (x - gap - width, y - up / 2, x - gap, y + up / 2)
    yield x, y - gap, "middle", (x - width / 2, y - gap - up, x + width / 2, y - gap)
    yield x, y + gap + 10, "middle", (x - width / 2, y + gap, x + width / 2, y + gap + up)
    for down in (-up, up):
        yield (
            x + gap - 3,
            y + down + 4.5,
            "start",
            (x + gap - 3, y + down - up / 2, x + gap + width, y + down + up / 2),
        )
        yield (
            x - gap + 3,
            y + down + 4.5,
            "end",
            (x - gap - width, y + down - up / 2, x - gap + 3, y + down + up / 2),
        )


def _hidden(box: Box, taken: Iterable[Box], lines: Iterable[Box], frame: _Frame) -> float:
    """How badly a name would lie: on lines, on other names and dots, or (the worst) beyond the edge."""
    left, top, right, bottom = box
    beyond = max(0.0, -left) + max(0.0, right - frame.width) + max(0.0, -top) + max(0.0, bottom - frame.height)
    return _overlap(box, lines) + 3 * _overlap(box, taken) + 4 * LINE_HEIGHT * beyond


def _overlap(box: Box, others: Iterable[Box]) -> float:
    """Square units of a box that lie on others."""
    left, top, right, bottom = box
    return sum(
        max(0.0, min(right, r) - max(left, x)) * max(0.0, min(bottom, b) - max(top, y)) for x, y, r, b in others
    )
