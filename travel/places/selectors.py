"""What lies below the lines of a map (the district's tile source, else roads of its own extract, else nothing), and
what a district and its people have to do with a building."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse

from accounts.models import District, Person
from travel.places.likely import Placed, place_question
from travel.places.models import Building, BuildingStaff
from travel.places.points import point_of
from travel.roads.base import Point, PointError
from travel.roads.models import TravelChoices
from travel.roads.road_tile import LEAST_ZOOM, road_picture
from travel.roads.sources import district_engine
from travel.roads.tiles import TileLayer, tile_origin

OWN_ROADS_COLOR = "#8a929d"
"""A gray that stands out from light and dark ground alike: about 3 to 1 from either."""
OPEN_STREET_MAP = "© OpenStreetMap contributors"


@dataclass(frozen=True, slots=True)
class Ground:
    """Tiles below a map, whose they are, and the host that a browser asks for them (empty: this server)."""

    layer: TileLayer | None = None
    attribution: str = ""
    host: str = ""


@dataclass(frozen=True, slots=True)
class OtherPlace:
    """A building that is on the map already."""

    code: str
    name: str
    latitude: float
    longitude: float


def tile_host(choices: TravelChoices) -> str:
    """Scheme, host and port that tiles are loaded from; empty where the district set no source."""
    return tile_origin(choices.tile_url) if choices.tile_url else ""


def map_ground(district: District | None) -> Ground:
    """What a district's maps are drawn on."""
    choices = TravelChoices.objects.filter(district=district).first() if district is not None else None
    if choices is None:
        return Ground()
    if choices.tile_url:
        return Ground(TileLayer(choices.tile_url), choices.tile_attribution, tile_host(choices))
    if choices.roads_in_use:
        return Ground(TileLayer(_own_roads(choices.roads_in_use), least_zoom=LEAST_ZOOM), OPEN_STREET_MAP)
    return Ground()


def _own_roads(key: str) -> str:
    """Address of this server's own tiles; a new extract changes it, so that no old picture is kept."""
    template = reverse("road_tile", args=[0, 0, 0]).replace("0/0/0", "{z}/{x}/{y}")
    return f"{template}?extract={key[:12]}"


def road_tile_picture(district: District, zoom: int, column: int, row: int) -> str | None:
    """The roads of one tile of the district's extract as SVG, or None where it has prepared none or it has no such
    tile. Raises `RoadError` where the extract can't be used."""
    if not LEAST_ZOOM <= zoom <= TileLayer("").most_zoom or max(column, row) >= 2**zoom:
        return None
    engine = district_engine(district)
    return None if engine is None else road_picture(engine.tile(zoom, column, row), OWN_ROADS_COLOR)


def other_places(viewer: Person, but: Building) -> tuple[OtherPlace, ...]:
    """Every other building that has coordinates."""
    rows = Building.objects.visible_to(viewer).exclude(pk=but.pk)
    return tuple(
        OtherPlace(row.code, row.name, point.latitude, point.longitude)
        for row in rows
        if (point := point_of(row)) is not None
    )


def placed_of(rows: Iterable[Building]) -> dict[int, Placed]:
    """Buildings that stand somewhere, by their ids."""
    return {row.pk: Placed(row.name, point) for row in rows if (point := point_of(row)) is not None}


def place_asked(district: District | None, row: Building, values: Mapping[str, Any]) -> str:
    """What to ask about the coordinates that a building would have; empty where they stay or are likely."""
    before = (row.latitude, row.longitude)
    latitude, longitude = (values.get(name, getattr(row, name)) for name in ("latitude", "longitude"))
    if latitude is None or longitude is None or (row.pk and (latitude, longitude) == before):
        return ""
    try:
        here = Point(float(latitude), float(longitude))
    except PointError:
        return ""  # the fields say so themselves
    others = Building.objects.filter(district=district).exclude(pk=row.pk)
    return place_question(Placed(values.get("name") or row.name, here), placed_of(others).values())


def geocoding_is_on(district: District) -> bool:
    """Whether addresses may be looked up for a district: the server names a service, and the district wants it."""
    wanted = TravelChoices.objects.filter(district=district, look_up_addresses=True)
    return bool(settings.GEOCODER) and wanted.exists()


def office_buildings_chosen(person: Person) -> set[int]:
    """Ids of the buildings that a person is tied to."""
    return set(BuildingStaff.objects.filter(person=person).values_list("building_id", flat=True))
