"""The second road engine (Valhalla, in this process), to hold the first against: other people's code, same map."""

from collections.abc import Sequence

import valhalla

from tests.roads import SecondRoads
from travel.roads.base import Point

type Minutes = dict[tuple[int, int], float]


class SecondEngine:
    """Minutes at the wheel and meters between points that lie on streets."""

    def __init__(self, roads: SecondRoads) -> None:
        # By its file: what it is given otherwise it writes into the machine's temporary folder, and leaves there.
        self._actor = valhalla.Actor(str(roads.file))

    def table(self, points: Sequence[Point]) -> tuple[Minutes, dict[tuple[int, int], float]]:
        """Minutes and meters by pair; pairs without a route are left out."""
        places = [{"lat": point.latitude, "lon": point.longitude} for point in points]
        asked = {"sources": places, "targets": places, "costing": "auto", "units": "km"}
        rows = self._actor.matrix(asked)["sources_to_targets"]
        pairs = {
            (i, j): pair
            for i, row in enumerate(rows)
            for j, pair in enumerate(row)
            if i != j and pair["time"] is not None
        }
        minutes = {key: pair["time"] / 60 for key, pair in pairs.items()}
        return minutes, {key: 1000 * pair["distance"] for key, pair in pairs.items()}
