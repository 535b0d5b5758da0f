"""Drive times from a Valhalla server (https://valhalla.github.io/valhalla/api/matrix/api-reference/)."""

from collections.abc import Sequence
from typing import Any

from travel.roads.base import SNAP_LIMIT_METERS, FarPoint, Point, RoadAnswer, road_answer
from travel.roads.geodesic import straight_meters
from travel.roads.http_base import RefusedError, Server, blocks

# "Locations are in unconnected regions": the whole table is refused for one island.
UNCONNECTED = 170

type Pair = tuple[float | None, float | None]


class ValhallaServer:
    """A Valhalla server; `answer` raises `RoadError` if it is down, slow, or no such server."""

    def __init__(self, server: Server) -> None:
        self._server = server

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs. A table that holds one place without a road is refused as a whole, so places
        are looked up first and those off the road left out."""
        if len(points) < 2:
            return RoadAnswer({})
        snapped = self._snapped(points)
        near = [index for index, meters in enumerate(snapped) if meters is not None and meters <= SNAP_LIMIT_METERS]
        table = self._table([points[index] for index in near])
        far = tuple(
            FarPoint(index, None if meters is None else round(meters))
            for index, meters in enumerate(snapped)
            if index not in near
        )
        return RoadAnswer({(near[i], near[j]): leg for (i, j), leg in table.legs.items()}, far)

    def _snapped(self, points: Sequence[Point]) -> list[float | None]:
        """Meters from each point to its road."""
        found = self._server.post("/locate", {"locations": [_location(one) for one in points], "costing": "auto"})
        try:
            return [_nearest(point, place) for point, place in zip(points, found, strict=True)]
        except (KeyError, TypeError, ValueError) as error:
            raise self._server.nonsense(error) from error

    def _table(self, points: Sequence[Point]) -> RoadAnswer:
        size = len(points)
        durations: list[list[float | None]] = [[None] * size for _ in points]
        distances: list[list[float | None]] = [[None] * size for _ in points]
        waiting = list(blocks(points))
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
        return road_answer(durations, distances, [0.0] * size)

    def _piece(self, points: Sequence[Point], rows: range, columns: range) -> list[list[Pair]]:
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
        except (KeyError, TypeError, ValueError) as error:
            raise self._server.nonsense(error) from error
        return found


def _halves(rows: range, columns: range) -> list[tuple[range, range]]:
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
