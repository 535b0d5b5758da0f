"""Map tiles: squares of 256 pixels in the Web Mercator scheme, by zoom, column and row. Pure.

At zoom z the world is 2^z by 2^z tiles, numbered from the north-west (WebMercatorQuad of the OGC Two Dimensional
Tile Matrix Set 2.0; OpenStreetMap's "slippy map" scheme).
"""

import math
import re
from dataclasses import dataclass
from urllib.parse import SplitResult, urlsplit

from travel.roads.base import Point

PLACEHOLDERS = ("{z}", "{x}", "{y}")
TILE_PIXELS = 256
NORTHMOST = 85.0511
"""Where the square world of Web Mercator ends, in degrees."""
MOST_TILES = 64
"""Of one drawing; more would be a request storm and none the clearer."""
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?|::1", re.ASCII)
_CHARACTERS = re.compile(r"[A-Za-z0-9\-._~:/?&=%+@!,\[\]{}]+", re.ASCII)
EXAMPLE = "https://tiles.example.org/{z}/{x}/{y}.png"


class TileAddressError(ValueError):
    """An address that no tiles can be asked under; the message says why and what to write."""


def tile_origin(template: str) -> str:
    """Scheme, host and port of an address with placeholders, as a content policy names it.

    Raises `TileAddressError`: only https (http for this machine itself), the three placeholders once each and no
    others, none in the host, no name and password.
    """
    if not _CHARACTERS.fullmatch(template):
        raise TileAddressError(f"It contains characters that a web address can't have. Write it like {EXAMPLE}.")
    parts, host, port = _parts(template)
    if parts.scheme != "https" and not (parts.scheme == "http" and host in LOOPBACK):
        raise TileAddressError("The address must begin with https://.")
    if not _HOST.fullmatch(host) or "@" in parts.netloc:
        raise TileAddressError(f"The host must be a plain name. Write it like {EXAMPLE}.")
    _placeholders_require(template)
    shown = f"[{host}]" if ":" in host else host
    return f"{parts.scheme}://{shown}" + (f":{port}" if port is not None else "")


def _parts(template: str) -> tuple[SplitResult, str, int | None]:
    try:
        parts = urlsplit(template)
        return parts, parts.hostname or "", parts.port
    except ValueError as error:
        raise TileAddressError(f"This isn't a web address. Write it like {EXAMPLE}.") from error


def _placeholders_require(template: str) -> None:
    found = re.findall(r"\{[^{}]*\}", template)
    missing = [name for name in PLACEHOLDERS if found.count(name) != 1]
    if missing:
        raise TileAddressError(f"{' and '.join(missing)} must be in it once. Write it like {EXAMPLE}.")
    others = [name for name in found if name not in PLACEHOLDERS]
    if others or len(re.findall(r"[{}]", template)) != 2 * len(found):
        raise TileAddressError("Only {z}, {x} and {y} may be in braces. Write out every other part.")


@dataclass(frozen=True, slots=True)
class TileLayer:
    """Where tiles come from: an address with placeholders, and the zooms that it has."""

    template: str
    least_zoom: int = 0
    most_zoom: int = 18

    def address(self, zoom: int, column: int, row: int) -> str:
        """Of one tile."""
        names = zip(PLACEHOLDERS, (zoom, column, row), strict=True)
        found = self.template
        for name, number in names:
            found = found.replace(name, str(number))
        return found


@dataclass(frozen=True, slots=True)
class Tile:
    """One tile: its address, and its north-west and south-east corners."""

    address: str
    north_west: Point
    south_east: Point


def column_at(longitude: float, zoom: int) -> float:
    """Column of a longitude, with fractions."""
    return (longitude + 180) / 360 * float(2**zoom)


def row_at(latitude: float, zoom: int) -> float:
    """Row of a latitude, with fractions; beyond the square world, its edge."""
    held = math.radians(max(-NORTHMOST, min(NORTHMOST, latitude)))
    return (1 - math.asinh(math.tan(held)) / math.pi) / 2 * float(2**zoom)


def corner(zoom: int, column: float, row: float) -> Point:
    """Where a column and a row begin."""
    latitude = math.degrees(math.atan(math.sinh(math.pi * (1 - 2 * row / 2**zoom))))
    return Point(latitude, column / 2**zoom * 360 - 180)


def zoom_for(units_a_degree: float) -> int:
    """The zoom whose tiles are drawn about as large as they are, by units (pixels) a degree of longitude."""
    return round(math.log2(max(units_a_degree, 1e-6) * 360 / TILE_PIXELS))


def tiles_over(layer: TileLayer, north_west: Point, south_east: Point, zoom: int) -> tuple[Tile, ...]:
    """The tiles of a layer that cover a rectangle; none where it has no such zoom or too many would be needed."""
    zoom = min(zoom, layer.most_zoom)
    if zoom < layer.least_zoom:
        return ()
    last = 2**zoom - 1
    columns = _span(column_at(north_west.longitude, zoom), column_at(south_east.longitude, zoom), last)
    rows = _span(row_at(north_west.latitude, zoom), row_at(south_east.latitude, zoom), last)
    if len(columns) * len(rows) > MOST_TILES:
        return ()
    return tuple(_tile(layer, zoom, column, row) for row in rows for column in columns)


def _span(first: float, last: float, most: int) -> range:
    return range(max(0, math.floor(first)), min(most, math.ceil(last) - 1) + 1)


def _tile(layer: TileLayer, zoom: int, column: int, row: int) -> Tile:
    return Tile(layer.address(zoom, column, row), corner(zoom, column, row), corner(zoom, column + 1, row + 1))
