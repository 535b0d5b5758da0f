"""Drive times from an OSRM server (HTTP API version 1, https://project-osrm.org/docs/)."""

from collections.abc import Sequence
from typing import Any

from travel.roads.answer import RoadAnswer, road_answer
from travel.roads.base import Point
from travel.roads.http_base import NONSENSE, Server, blocks


class OsrmServer:
    """An OSRM server; `answer` raises `RoadError` if it is down, slow, or no such server."""

    def __init__(self, server: Server) -> None:
        self._server = server

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs, within the server's time for all of it."""
        return self._server.within(lambda: self._answer(points))

    def _answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs, from one call for 50 buildings and a few for more."""
        size = len(points)
        durations: list[list[float | None]] = [[None] * size for _ in points]
        distances: list[list[float | None]] = [[None] * size for _ in points]
        snapped: list[float | None] = [None] * size
        if size < 2:
            return RoadAnswer({})
        for rows, columns in blocks(points):
            piece = self._piece(points, rows, columns)
            try:
                for i, times, lengths, place in zip(
                    rows, piece["durations"], piece["distances"], piece["sources"], strict=True
                ):
                    durations[i][columns.start : columns.stop] = _row(times, columns)
                    distances[i][columns.start : columns.stop] = _row(lengths, columns)
                    snapped[i] = float(place["distance"])
            except NONSENSE as error:
                raise self._server.nonsense(error) from error
        return road_answer(points, durations, distances, snapped)

    def _piece(self, points: Sequence[Point], rows: range, columns: range) -> dict[str, Any]:
        """Rows and columns of the table; each place is named once."""
        named = sorted({*rows, *columns})
        number = {index: str(place) for place, index in enumerate(named)}
        places = ";".join(f"{points[i].longitude:.6f},{points[i].latitude:.6f}" for i in named)
        return self._server.get(
            f"/table/v1/driving/{places}",
            sources=";".join(number[i] for i in rows),
            destinations=";".join(number[j] for j in columns),
            annotations="duration,distance",
            generate_hints="false",
        )


def _row(values: list[float | None], columns: range) -> list[float | None]:
    if len(values) != len(columns):
        raise ValueError(len(values))
    return [None if value is None else float(value) for value in values]
