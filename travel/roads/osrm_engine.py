"""Drive times along roads, from an engine that runs in this process on prepared files."""

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from travel.roads.answer import RoadAnswer, road_answer
from travel.roads.base import Point, RoadError
from travel.roads.prepare import AGAIN, base_path, engine_version, read_prepared
from travel.roads.road_tile import RoadPiece, TileContentError, read_roads


@dataclass(frozen=True, slots=True)
class RoadLine:
    """The way that a drive takes: its points in order, meters and seconds at the wheel."""

    points: tuple[Point, ...]
    meters: float
    seconds: float


class OsrmEngine:
    """An engine over one prepared directory. Answers may be asked for from several threads at once."""

    def __init__(self, roads_dir: Path, key: str) -> None:
        """Check every prepared file, then load them; raises `RoadError`."""
        read_prepared(roads_dir, key)
        engine_version()
        self._osrm: Any = importlib.import_module("osrm")
        try:
            self._engine = self._osrm.OSRM(
                algorithm="CH",
                storage_config=str(base_path(roads_dir, key)),
                use_shared_memory=False,
                max_locations_distance_table=-1,
            )
        except RuntimeError as error:
            raise RoadError(f"The prepared roads can't be loaded: {error}.", AGAIN) from error

    def answer(self, points: Sequence[Point]) -> RoadAnswer:
        """Drives between all pairs, from one call of the engine."""
        if len(points) < 2:
            return RoadAnswer({})  # the engine refuses a table of none
        asked = self._osrm.TableParameters(
            coordinates=[(point.longitude, point.latitude) for point in points],
            annotations=["duration", "distance"],
            generate_hints=False,
        )
        try:
            table = self._engine.Table(asked)
        except RuntimeError as error:
            raise RoadError(f"The road engine refused the table: {error}.", AGAIN) from error
        return road_answer(
            points,
            table["durations"],
            table["distances"],
            [place["distance"] for place in table["sources"]],
        )

    def line(self, origin: Point, destination: Point) -> RoadLine | None:
        """The way from one point to another, or None if no road joins them."""
        asked = self._osrm.RouteParameters(
            coordinates=[(point.longitude, point.latitude) for point in (origin, destination)],
            geometries="geojson",
            overview="full",
            generate_hints=False,
        )
        try:
            answer = self._engine.Route(asked)
        except RuntimeError as error:
            if str(error).startswith(("NoRoute", "NoSegment")):
                return None
            raise RoadError(f"The road engine refused the way: {error}.", AGAIN) from error
        route = answer["routes"][0]
        return RoadLine(
            points=tuple(Point(place[1], place[0]) for place in route["geometry"]["coordinates"]),
            meters=route["distance"],
            seconds=route["duration"],
        )

    def tile(self, zoom: int, column: int, row: int) -> tuple[RoadPiece, ...]:
        """The roads of one tile, from zoom `road_tile.LEAST_ZOOM` on; none where the extract has none."""
        asked = self._osrm.TileParameters(column, row, zoom)
        try:
            return read_roads(self._engine.Tile(asked))
        except (RuntimeError, TileContentError) as error:
            raise RoadError(f"The road engine refused a piece of the map: {error}.", AGAIN) from error
