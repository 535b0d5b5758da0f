"""Drive times from a Valhalla server (https://valhalla.github.io/valhalla/api/matrix/api-reference/)."""

from collections.abc import Sequence
from typing import Any

from travel.roads.answer import SNAP_LIMIT_METERS, RoadAnswer, road_answer
from travel.roads.base import Point
from travel.roads.geodesic import straight_meters
from travel.roads.http_base import NONSENSE, RefusedError, Server, blocks

# "Locations are in unconnected regions": the whole table is refused for one island.
UNCONNECTED = 170

type Pair = tuple[float | None, float | None]
type Table = list[list[float | None]]
type Piece = tuple[Sequence[int], Sequence[int]]
"""Rows and columns of a table, as indexes of points."""


class ValhallaServer:
    """A Valhalla server; `answer` raises `RoadError` if it is down, slow, or no such server."""

    def __init__(self, server: Server) -> None:
        self._server = server

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs, within the server's time for all of it."""
        return self._server.within(lambda: self._answer(points))

    def _answer(self, points: Sequence[Point]) -> RoadAnswer:
        """A table that holds one place without a road is refused as a whole: places are looked up first, and those
        off the road left out."""
        if len(points) < 2:
            return RoadAnswer({})
        snapped = self._snapped(points)
        near = [index for index, meters in enumerate(snapped) if meters is not None and meters <= SNAP_LIMIT_METERS]
        durations, distances = self._tables(points, near)
        return road_answer(points, durations, distances, snapped)

    def _snapped(self, points: Sequence[Point]) -> list[float | None]:
        """Meters from each point to its road."""
        found = self._server.post("/locate", {"locations": [_location(one) for one in points], "costing": "auto"})
        try:
            return [_nearest(point, place) for point, place in zip(points, found, strict=True)]
        except NONSENSE as error:
            raise self._server.nonsense(error) from error

    def _tables(self, points: Sequence[Point], near: Sequence[int]) -> tuple[Table, Table]:
        """Seconds and meters between all points; None where there is no way, and for points that aren't `near`."""
        durations: Table = [[None] * len(points) for _ in points]
        distances: Table = [[None] * len(points) for _ in points]
        waiting = [_indexes(piece, near) for piece in blocks([points[index] for index in near])]
        while waiting:
            rows, columns = waiting.pop()
            try:
                piece = self._piece(points, rows, columns)
            except RefusedError as error:
                if error.code != UNCONNECTED:
                    raise
                waiting += _halves(rows, columns)
                continue
            for i, row in zip(rows, piece, strict=True):
                for j, (seconds, meters) in zip(columns, row, strict=True):
                    durations[i][j], distances[i][j] = seconds, meters
        return durations, distances

    def _piece(self, points: Sequence[Point], rows: Sequence[int], columns: Sequence[int]) -> list[list[Pair]]:
        """Rows and columns of the table."""
        asked = {
            "sources": [_location(points[i]) for i in rows],
            "targets": [_location(points[j]) for j in columns],
            "costing": "auto",
            "units": "km",
        }
        answer = self._server.post("/sources_to_targets", asked)
        try:
            found = [[_pair(pair) for pair in row] for row in answer["sources_to_targets"]]
            if len(found) != len(rows) or any(len(row) != len(columns) for row in found):
                raise ValueError(len(found))
        except NONSENSE as error:
            raise self._server.nonsense(error) from error
        return found


def _indexes(block: tuple[range, range], near: Sequence[int]) -> Piece:
    """A block of the points that are near a road, as indexes of all points."""
    rows, columns = block
    return [near[i] for i in rows], [near[j] for j in columns]


def _halves(rows: Sequence[int], columns: Sequence[int]) -> list[Piece]:
    """A piece that holds an island, cut in two; nothing is left of a single pair."""
    if len(rows) == len(columns) == 1:
        return []
    if len(rows) >= len(columns):
        half = len(rows) // 2
        return [(rows[:half], columns), (rows[half:], columns)]
    half = len(columns) // 2
    return [(rows, columns[:half]), (rows, columns[half:])]


def _location(point: Point) -> dict[str, float]:
    return {"lat": point.latitude, "lon": point.longitude}


def _nearest(point: Point, place: dict[str, Any]) -> float | None:
    """Meters to the nearest way that was found, None if there is none."""
    edges = place["edges"] or []
    ends = [Point(float(edge["correlated_lat"]), float(edge["correlated_lon"])) for edge in edges]
    return min((straight_meters(point, end) for end in ends), default=None)


def _pair(pair: dict[str, Any]) -> Pair:
    """Seconds and meters of a pair, None without a route."""
    seconds, kilometers = pair["time"], pair["distance"]
    if seconds is None or kilometers is None:
        return None, None
    return float(seconds), 1000 * float(kilometers)
