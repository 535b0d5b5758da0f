"""What maps are drawn on: nothing, the district's own roads, or a source that a coordinator set."""

import json
import re
from typing import Any

import pytest
from django.urls import reverse
from pytest_django.fixtures import Settings

from accounts.models import AuditEntry
from tests.api import Api
from tests.conftest import Cast
from tests.roads import PreparedRoads, random_points
from tests.travel.places.test_building_pages import signed_in
from travel.drives.services import roads_choose
from travel.roads.models import TravelChoices
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.road_tile import EXTENT, RoadPiece, TileContentError, read_roads, road_picture
from travel.roads.tiles import column_at, row_at

TILES = "https://tiles.example.org/{z}/{x}/{y}.png"
SOURCE: dict[str, Any] = {"tile_url": TILES, "tile_attribution": "Fell Survey <2026>"}
HELSINKI = [14, 9327, 4742]


@pytest.fixture
def on_roads(cast: Cast, helsinki_roads: PreparedRoads, settings: Settings) -> Cast:
    """The cast's district with central Helsinki prepared."""
    settings.ROADS_DIR = helsinki_roads.roads_dir
    roads_choose(district=cast.district, prepared=helsinki_roads.prepared)
    return cast


@pytest.fixture
def with_source(cast: Cast) -> Cast:
    """The cast's district with a tile source."""
    TravelChoices.objects.create(district=cast.district, **SOURCE)
    return cast


# ---- roads of the extract ----------------------------------------------------------------------------------


def test_ways_of_the_engine_lie_on_the_roads_of_its_tiles(helsinki_engine: OsrmEngine) -> None:
    """Every bend of a way, within two units of 4096 of a piece of road on the tile (about 70 cm): the tile is read
    rightly, and columns and rows are the engine's own."""
    for origin, destination in zip(random_points(6, seed=1), random_points(6, seed=2), strict=True):
        line = helsinki_engine.line(origin, destination)
        assert line is not None
        for point in line.points[1:-1]:
            column, row = column_at(point.longitude, 14), row_at(point.latitude, 14)
            pieces = helsinki_engine.tile(14, int(column), int(row))
            x, y = column % 1 * EXTENT, row % 1 * EXTENT
            near = min(_metric(piece, x, y) for piece in pieces)
            assert near <= 2, (point, near)


def _metric(piece: RoadPiece, x: float, y: float) -> float:
    return min(max(abs(x - at), abs(y - down)) for at, down in piece.line)


def test_a_tile_where_the_extract_has_nothing_is_empty(helsinki_engine: OsrmEngine) -> None:
    assert helsinki_engine.tile(14, 4800, 6000) == ()


@pytest.mark.parametrize("broken", [b"\x1a\xff", b"\x80", b"\x1b\x01"])
def test_bytes_that_are_no_tile_are_refused(broken: bytes) -> None:
    with pytest.raises(TileContentError):
        read_roads(broken)


def test_streets_are_drawn_thinner_than_main_roads() -> None:
    street, main = RoadPiece(((0, 0), (9, 9)), 20), RoadPiece(((1, 1), (5, 5), (5, 7)), 60)
    picture = road_picture([street, main], "#888888")
    paths = re.findall(r'stroke-width="(\d+)" d="([^"]*)"', picture)
    assert [d for _, d in paths] == ["M0 0L9 9", "M1 1L5 5L5 7"]
    assert int(paths[0][0]) < int(paths[1][0])


def test_everyone_of_the_district_gets_its_roads_and_nobody_else(on_roads: Cast) -> None:
    address = reverse("road_tile", args=HELSINKI)
    for person in (on_roads.teacher, on_roads.coordinator, on_roads.office, on_roads.substitute):
        answer = signed_in(person).get(address)
        assert (answer.status_code, answer["Content-Type"]) == (200, "image/svg+xml")
        assert answer.content.decode().count("L") > 1000
        assert "private" in answer["Cache-Control"]
    assert signed_in(on_roads.stranger).get(address).status_code == 404


@pytest.mark.parametrize("place", [[11, 1165, 592], [19, 298464, 151744], [14, 20000, 1]])
def test_zooms_and_columns_that_there_are_not_are_not_found(on_roads: Cast, place: list[int]) -> None:
    assert signed_in(on_roads.teacher).get(reverse("road_tile", args=place)).status_code == 404


def test_damaged_roads_are_not_found_and_break_no_form(on_roads: Cast) -> None:
    TravelChoices.objects.update(roads_key="0" * 64 + "-osrm-bindings-0")
    client = signed_in(on_roads.teacher)
    assert client.get(reverse("road_tile", args=HELSINKI)).status_code == 404
    assert client.get(reverse("building_change", args=[on_roads.north.pk])).status_code == 200


# ---- the pin's map -----------------------------------------------------------------------------------------


def test_the_form_carries_the_other_buildings_and_not_its_own(cast: Cast) -> None:
    page = signed_in(cast.teacher).get(reverse("building_change", args=[cast.north.pk]))
    others = re.search(r'data-others="([^"]*)"', page.content.decode())
    assert others is not None
    assert json.loads(others[1].replace("&quot;", '"')) == [
        {"code": "SOUTH", "name": "South Hollow School", "latitude": 43.02, "longitude": -75.25}
    ]
    assert "data-tiles" not in page.content.decode()
    assert "id_latitude" in page.content.decode()


def test_without_a_source_no_page_may_load_pictures_from_elsewhere(on_roads: Cast) -> None:
    client = signed_in(on_roads.teacher)
    for page in (client.get(reverse("building_new")), client.get(reverse("road_map"))):
        assert images_of(page["Content-Security-Policy"]) == "'self' data:"
        assert page["Referrer-Policy"] == "same-origin"
    form = client.get(reverse("building_new")).content.decode()
    assert 'data-tiles="/roads/{z}/{x}/{y}.svg?extract=b73e9c2c8205"' in form


def images_of(policy: str) -> str:
    """From where pictures may come."""
    return next(one for one in policy.split("; ") if one.startswith("img-src")).removeprefix("img-src ")


def test_with_a_source_only_pages_with_a_map_may_ask_its_host(with_source: Cast) -> None:
    client = signed_in(with_source.teacher)
    for name in ("building_new", "road_map"):
        page = client.get(reverse(name))
        assert images_of(page["Content-Security-Policy"]) == "'self' data: https://tiles.example.org"
        assert page["Referrer-Policy"] == "strict-origin-when-cross-origin"
        text = page.content.decode()
        assert "https://tiles.example.org/" in text
        assert "Fell Survey &lt;2026&gt;" in text
    other = client.get(reverse("building_list"))
    assert images_of(other["Content-Security-Policy"]) == "'self' data:"
    assert other["Referrer-Policy"] == "same-origin"


# ---- the district's page -----------------------------------------------------------------------------------


def test_a_coordinator_changes_the_district(cast: Cast) -> None:
    client = signed_in(cast.coordinator)
    values = {"name": "Marrow Vale Schools", "state": " ny ", "time_zone": "America/Chicago"}
    page = client.post(reverse("district_change"), values, follow=True)
    assert page.redirect_chain[-1][0] == reverse("district")
    assert "Marrow Vale Schools" in page.content.decode()
    cast.district.refresh_from_db()
    assert (cast.district.state, cast.district.time_zone) == ("NY", "America/Chicago")
    assert AuditEntry.objects.get(action="district_save").changes["time_zone"] == [
        "America/New_York",
        "America/Chicago",
    ]


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"name": "Farther Fells"}, "name", "already exists"),
        ({"name": ""}, "name", "Fill this in."),
        ({"state": "ZZ"}, "state", "a state. Give two letters"),
        ({"time_zone": "Mars/Base"}, "time_zone", "a time zone. Use a name such as"),
    ],
)
def test_what_is_wrong_with_a_district_stands_at_its_field(
    cast: Cast, values: dict[str, str], field: str, words: str
) -> None:
    whole = {"name": "Marrow Vale County", "state": "NY", "time_zone": "America/New_York", **values}
    page = signed_in(cast.coordinator).post(reverse("district_change"), whole)
    assert page.status_code == 422
    text = page.content.decode()
    assert f'<a href="#id_{field}">' in text
    assert words in text
    cast.district.refresh_from_db()
    assert cast.district.name == "Marrow Vale County"


def test_a_tile_source_is_set_with_a_warning_and_taken_away_again(cast: Cast) -> None:
    client = signed_in(cast.coordinator)
    assert "It never gets a student" in client.get(reverse("tile_source")).content.decode()
    page = client.post(reverse("tile_source"), SOURCE, follow=True).content.decode()
    assert "Maps are loaded from https://tiles.example.org from now on." in page
    assert TravelChoices.objects.get().tile_url == TILES
    page = client.post(
        reverse("tile_source"), {"tile_url": "", "tile_attribution": ""}, follow=True
    ).content.decode()
    assert "Nothing is loaded from elsewhere." in page
    assert AuditEntry.objects.filter(action="travel_choices_save").count() == 2


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        (
            {**SOURCE, "tile_url": "http://tiles.example.org/{z}/{x}/{y}.png"},
            "tile_url",
            "must begin with https://",
        ),
        ({**SOURCE, "tile_attribution": ""}, "tile_attribution", "Say whose map it is"),
    ],
)
def test_a_source_that_will_not_do_is_refused_at_its_field(
    cast: Cast, values: dict[str, str], field: str, words: str
) -> None:
    page = signed_in(cast.coordinator).post(reverse("tile_source"), values)
    assert page.status_code == 422
    assert f'<a href="#id_{field}">' in page.content.decode()
    assert words in page.content.decode()
    assert not TravelChoices.objects.exists()


def test_the_api_sets_the_same_through_the_same_services(cast: Cast) -> None:
    api = Api(cast.coordinator)
    assert api.get("district/")["name"] == "Marrow Vale County"
    assert api.patch("district/", state="vt")["state"] == "VT"
    assert list(api.patch("district/", expect=400, time_zone="Mars/Base")["fields"]) == ["time_zone"]
    assert list(api.patch("district/", expect=400, nmae="x")["fields"]) == ["nmae"]
    row = api.post("travel-choices/", **SOURCE)
    assert row["tile_url"] == TILES
    error = api.patch(f"travel-choices/{row['id']}/", expect=400, tile_url="https://tiles.example.org/{z}")
    assert list(error["fields"]) == ["tile_url"]


def test_a_teacher_keeps_the_other_choices_and_not_the_tile_source(with_source: Cast) -> None:
    api, row = Api(with_source.teacher), TravelChoices.objects.get()
    api.patch(f"travel-choices/{row.pk}/", look_up_addresses=True, **SOURCE)
    error = api.patch(f"travel-choices/{row.pk}/", expect=403, tile_url="https://other.example.org/{z}/{x}/{y}")
    assert error["code"] == "not_for_your_role"
    row.refresh_from_db()
    assert (row.look_up_addresses, row.tile_url) == (True, TILES)
