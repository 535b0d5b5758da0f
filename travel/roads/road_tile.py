"""The roads of a prepared extract as a picture of one tile, for a map that asks no other server. Pure.

The engine answers with a Mapbox Vector Tile (specification 2.1): protocol buffers with a layer ``speeds``, in which
every road is a line once for each direction. Only what a drawing needs is read: the lines and how fast they are.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

EXTENT = 4096
"""Units of a tile's side, as the specification's default and the engine have it."""
LEAST_ZOOM = 12
"""The engine draws no tiles farther out."""
LAYER = "speeds"
MAIN_ROAD = 30
"""Kilometers an hour from which on a road is drawn wider: in town, the streets that carry the traffic."""
VARINT, FIXED64, BYTES, FIXED32 = 0, 1, 2, 5
MOVE_TO, LINE_TO = 1, 2

type Line = tuple[tuple[int, int], ...]


class TileContentError(ValueError):
    """Bytes that are no vector tile."""


@dataclass(frozen=True, slots=True)
class RoadPiece:
    """A piece of road in units of the tile, x to the east and y to the south; kilometers an hour on it."""

    line: Line
    speed: float


def read_roads(tile: bytes) -> tuple[RoadPiece, ...]:
    """Each piece of road once, whichever directions it has. Raises `TileContentError`."""
    found: dict[Line, float] = {}
    for number, layer in _fields(tile):
        if number == 3 and isinstance(layer, bytes):
            for line, speed in _pieces(layer):
                key = min(line, line[::-1])
                found[key] = max(speed, found.get(key, 0))
    return tuple(RoadPiece(line, speed) for line, speed in found.items())


def road_picture(roads: Sequence[RoadPiece], color: str) -> str:
    """The roads as an SVG picture."""
    # Widths so that a street is about 1.5 of the tile's 256 pixels and a main road 3.
    small = "".join(_path(one.line) for one in roads if one.speed < MAIN_ROAD)
    main = "".join(_path(one.line) for one in roads if one.speed >= MAIN_ROAD)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {EXTENT} {EXTENT}" width="256" height="256">'
        f'<g fill="none" stroke="{color}" stroke-linecap="round" stroke-linejoin="round">'
        f'<path stroke-width="24" d="{small}"/><path stroke-width="48" d="{main}"/></g></svg>'
    )


def _path(line: Line) -> str:
    return "M" + "L".join(f"{x} {y}" for x, y in line)


def _pieces(layer: bytes) -> Iterator[tuple[Line, float]]:
    fields = list(_fields(layer))
    if (1, LAYER.encode()) not in fields:
        return
    keys = [value.decode() for value in _of_number(fields, 3)]
    values = [_number(value) for value in _of_number(fields, 4)]
    speed_key = keys.index("speed") if "speed" in keys else -1
    for value in _of_number(fields, 2):
        yield from _feature(value, speed_key, values)


def _of_number(fields: Iterable[tuple[int, int | bytes]], wanted: int) -> Iterator[bytes]:
    """The bytes of each field of a number."""
    return (value for number, value in fields if number == wanted and isinstance(value, bytes))


def _feature(feature: bytes, speed_key: int, values: Sequence[float]) -> Iterator[tuple[Line, float]]:
    speed, geometry = 0.0, b""
    for number, value in _fields(feature):
        if number == 2 and isinstance(value, bytes):
            tags = list(_varints(value))
            speed = next((values[at] for key, at in zip(tags[::2], tags[1::2], strict=True) if key == speed_key), 0)
        elif number == 4 and isinstance(value, bytes):
            geometry = value
    for line in _lines(list(_varints(geometry))):
        yield line, speed


def _lines(words: Sequence[int]) -> Iterator[Line]:
    """Commands of a geometry: integers that say what follows and how often, then zigzag steps."""
    x = y = at = 0
    line: list[tuple[int, int]] = []
    while at < len(words):
        command, count = words[at] & 7, words[at] >> 3
        at += 1
        if command == MOVE_TO:
            yield from _whole(line)
            line = []
        elif command != LINE_TO:
            raise TileContentError("The road engine's tile holds something other than lines.")
        for _ in range(count):
            x, y = x + _zigzag(words[at]), y + _zigzag(words[at + 1])
            line.append((x, y))
            at += 2
    yield from _whole(line)


def _whole(line: list[tuple[int, int]]) -> Iterator[Line]:
    if len(line) > 1:
        yield tuple(line)


def _zigzag(word: int) -> int:
    return (word >> 1) ^ -(word & 1)


def _number(value: bytes) -> float:
    """A value's whole number; values of other types are none of a speed's."""
    return next((found for number, found in _fields(value) if number in {4, 5} and isinstance(found, int)), 0)


def _fields(message: bytes) -> Iterator[tuple[int, int | bytes]]:
    """Number and value of each field of a protocol buffer."""
    at = 0
    while at < len(message):
        key, at = _varint(message, at)
        kind = key & 7
        if kind == VARINT:
            value, at = _varint(message, at)
            yield key >> 3, value
            continue
        size, at = _varint(message, at) if kind == BYTES else ({FIXED64: 8, FIXED32: 4}.get(kind, -1), at)
        if size < 0 or at + size > len(message):
            raise TileContentError("The road engine's tile ends too early.")
        yield key >> 3, message[at : at + size]
        at += size


def _varints(packed: bytes) -> Iterator[int]:
    at = 0
    while at < len(packed):
        value, at = _varint(packed, at)
        yield value


def _varint(message: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        if at >= len(message):
            raise TileContentError("The road engine's tile ends too early.")
        byte = message[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value, at
        shift += 7
