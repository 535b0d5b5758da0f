"""The invented district of the demo moved onto real streets (central Helsinki, tests.roads), roads prepared."""

import json
from pathlib import Path

from tests.browser.conftest import Site, empty_site
from tests.roads import PreparedRoads, street_points
from travel.roads.osrm_engine import OsrmEngine

SEED = 9
MOVE = """
from travel.models import Building
for row, (latitude, longitude) in zip(Building.objects.order_by("pk"), {places}, strict=True):
    row.latitude, row.longitude = latitude, longitude
    row.save()
"""
BUILDINGS = 7
"""So many has the demo."""


def make_roads_site(folder: Path, extract: Path, roads: PreparedRoads, tables: Path) -> Site:
    """A site with a planned week on real streets; not served yet."""
    ready = empty_site(folder, tables)
    ready.manage("load_demo")
    points = street_points(OsrmEngine(roads.roads_dir, roads.key), BUILDINGS, SEED)
    places = json.dumps([(round(one.latitude, 6), round(one.longitude, 6)) for one in points])
    ready.manage("shell", "--verbosity=0", "-c", MOVE.format(places=places))
    ready.manage("prepare_roads", str(extract), "--district", "Marrow Vale County")
    ready.manage("plan_week", "--teacher=teacher", "--time-limit=5", "--publish-anyway")
    return ready
