"""Maps in a real browser: the week's on a prepared extract, the pin's on a building's form, and a tile source.

The extract is real (central Helsinki, tests.roads), the buildings in it are invented.
"""

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.answering_server import server_that
from tests.browser.conftest import PHONE, Site, served, sign_in
from tests.browser.roads_site import make_roads_site
from tests.browser.test_accessibility import faults
from tests.roads import PreparedRoads, random_points
from travel.roads.base import Point
from travel.roads.geodesic import straight_meters

pytestmark = pytest.mark.browser
A_DRIVE = re.compile(
    r"(?P<origin>.+) to (?P<destination>.+): (?P<trips>\d+) trips?, (?P<minutes>.+) minutes at the wheel"
)


@pytest.fixture(scope="session")
def roads_site(
    tmp_path_factory: pytest.TempPathFactory,
    chromium: Browser,
    helsinki: Path,
    helsinki_roads: PreparedRoads,
    tables: Path,
) -> Iterator[Site]:
    """A district on real streets with a planned week."""
    del chromium
    ready = make_roads_site(tmp_path_factory.mktemp("roads-site"), helsinki, helsinki_roads, tables)
    with served(ready):
        yield ready


@dataclass
class Watched:
    """A page, every address that it asked for, and what scripts and the content policy complained of."""

    page: Page
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def elsewhere(self, site: Site) -> list[str]:
        """Requests to others; what a page carries in itself is none."""
        return [one for one in self.asked if not one.startswith((site.address + "/", "data:", "blob:"))]


def watch(context: BrowserContext, site: Site, username: str) -> Watched:
    """A page with somebody signed in."""
    page = context.new_page()
    watched = Watched(page)
    page.on("pageerror", lambda error: watched.complaints.append(str(error)))
    page.on("console", lambda said: watched.complaints.append(said.text) if said.type == "error" else None)
    page.on("request", lambda request: watched.asked.append(request.url))
    sign_in(page, site, username)
    return watched


def open_map(page: Page, site: Site) -> Locator:
    """The map of the week that is planned; returns its drawing."""
    page.goto(f"{site.address}/week/?start=1")
    monday = re.search(r"\d{4}-\d{2}-\d{2}", page.url + page.content())
    assert monday is not None
    page.goto(f"{site.address}/map/?day={monday[0]}")
    page.get_by_role("link", name="Whole week").click()
    page.wait_for_load_state("networkidle")
    return page.locator("svg.map-wide")


# ---- the week's map ----------------------------------------------------------------------------------------


def test_drives_follow_the_roads_and_nothing_leaves_the_server(context: BrowserContext, roads_site: Site) -> None:
    """Lines with the bends of streets, roads of the extract below them, and no request to anybody else."""
    watched = watch(context, roads_site, "teacher")
    drawing = open_map(watched.page, roads_site)
    ways = drawing.locator(".leg path:not(.reach)")
    assert ways.count() >= 4
    bends = [way.get_attribute("d") or "" for way in ways.all()]
    # A straight line has one "L"; streets have bends.
    assert sum(way.count("L") > 1 for way in bends) >= len(bends) / 2
    pictures = drawing.locator(".ground image")
    assert pictures.count() >= 2
    shown = [one.get_attribute("href") or "" for one in pictures.all()]
    assert all(re.fullmatch(r"/roads/\d+/\d+/\d+\.svg\?extract=[0-9a-f]{12}", one) for one in shown)
    expect(watched.page.locator("svg.map-narrow image[href]")).to_have_count(0)
    assert any("/roads/" in one for one in watched.asked)
    assert watched.elsewhere(roads_site) == []
    assert watched.complaints == []


def test_hovering_a_drive_says_what_the_table_says(context: BrowserContext, roads_site: Site) -> None:
    """Trips and minutes of every direction, in the drawing's words and in the table beside it."""
    page = watch(context, roads_site, "teacher").page
    drawing = open_map(page, roads_site)
    spoken = "; ".join(title.text_content() or "" for title in drawing.locator(".leg title").all())
    told = {
        (found["origin"], found["destination"]): (found["trips"], found["minutes"])
        for one in spoken.split("; ")
        if (found := A_DRIVE.match(one)) is not None
    }
    table = {}
    for row in page.locator("table.drives tbody tr").all():
        origin, destination = re.split(r"\s*→\s*to\s*", row.locator("th").text_content() or "")
        cells = row.locator("td").all_text_contents()
        table[origin.strip(), destination.strip()] = (cells[0], cells[1])
    assert told == table
    assert len(table) >= 4
    middle = drawing.locator(".leg .reach").last.evaluate(
        "path => { const at = path.getPointAtLength(path.getTotalLength() / 2), m = path.getScreenCTM();"
        " return [at.x * m.a + m.e, at.y * m.d + m.f]; }"
    )
    page.mouse.move(*middle)
    hovered = page.locator(".leg:hover title").text_content() or ""
    first = A_DRIVE.match(hovered.split("; ")[0])
    assert first is not None
    assert table[first["origin"], first["destination"]] == (first["trips"], first["minutes"])


def test_the_map_page_is_accessible_on_desk_and_phone(context: BrowserContext, roads_site: Site) -> None:
    page = watch(context, roads_site, "teacher").page
    open_map(page, roads_site)
    assert faults(page) == []
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.emulate_media(color_scheme="dark")
    page.reload()
    page.wait_for_load_state("networkidle")
    assert faults(page) == []
    assert page.locator("svg.map-narrow image[href]").count() >= 1
    expect(page.locator(".map-codes")).to_contain_text("Tansy Hollow Primary School")
    assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")


# ---- the pin -----------------------------------------------------------------------------------------------


def typed(page: Page) -> Point:
    """What stands in the fields."""
    return Point(
        float(page.get_by_label("Latitude").input_value()), float(page.get_by_label("Longitude").input_value())
    )


def open_pin(page: Page, site: Site) -> Locator:
    """The form of the first building; returns the pin."""
    page.goto(f"{site.address}/buildings/")
    page.get_by_role("link", name=re.compile("Tansy Hollow")).first.click()
    page.goto(f"{page.url.rstrip('/')}/change/")
    page.wait_for_load_state("networkidle")
    pin = page.get_by_role("application", name=re.compile("Place of the building"))
    pin.scroll_into_view_if_needed()
    return pin


def test_arrow_keys_move_the_pin_by_meters_and_say_so(context: BrowserContext, roads_site: Site) -> None:
    """10 meters a press and 100 with Shift, by the geodesic on the ellipsoid, within half a percent (a sphere's
    radius against the ellipsoid's) and the tenth of a meter of the sixth decimal."""
    watched = watch(context, roads_site, "teacher")
    page = watched.page
    pin = open_pin(page, roads_site)
    pin.focus()
    for key, meters, north, east in (
        ("ArrowUp", 10, 1, 0),
        ("ArrowLeft", 10, 0, -1),
        ("Shift+ArrowRight", 100, 0, 1),
        ("Shift+ArrowDown", 100, -1, 0),
    ):
        before = typed(page)
        pin.press(key)
        after = typed(page)
        assert straight_meters(before, after) == pytest.approx(meters, rel=0.005, abs=0.15)
        signs = (round((after.latitude - before.latitude) * 1e6), round((after.longitude - before.longitude) * 1e6))
        assert (signs[0] > 0) - (signs[0] < 0) == north
        assert (signs[1] > 0) - (signs[1] < 0) == east
        expect(page.locator("#pin-said[role=status]")).to_contain_text(f"{meters} meters")
    expect(page.locator("#pin-said[role=status]")).to_contain_text("miles from")
    assert watched.elsewhere(roads_site) == []
    assert watched.complaints == []


def test_dragging_and_clicking_fill_in_the_fields_and_saving_keeps_them(
    context: BrowserContext, roads_site: Site
) -> None:
    page = watch(context, roads_site, "teacher").page
    pin = open_pin(page, roads_site)
    before, box = typed(page), pin.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y + 40, steps=8)
    page.mouse.up()
    dragged = typed(page)
    assert dragged.longitude > before.longitude
    assert dragged.latitude < before.latitude
    page.locator("#pin-map").click(position={"x": 200, "y": 120})
    clicked = typed(page)
    assert straight_meters(dragged, clicked) > 20
    page.get_by_role("button", name="Move the pin to the middle").click()
    kept = typed(page)
    assert straight_meters(clicked, kept) > 5
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("The building is saved.")).to_be_visible()
    open_pin(page, roads_site)
    assert typed(page) == kept


def test_typing_moves_the_pin_and_an_empty_field_takes_it_away(context: BrowserContext, roads_site: Site) -> None:
    page = watch(context, roads_site, "teacher").page
    pin = open_pin(page, roads_site)
    before = pin.bounding_box()
    page.get_by_label("Latitude").fill("60.1701")
    page.get_by_label("Latitude").press("Tab")
    page.wait_for_timeout(400)
    assert pin.bounding_box() != before
    page.get_by_label("Longitude").fill("")
    page.get_by_label("Longitude").press("Tab")
    expect(pin).to_have_count(0)
    assert faults(page) == []


def test_without_scripts_the_fields_alone_do(chromium: Browser, roads_site: Site) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, roads_site, "teacher")
    page.goto(f"{roads_site.address}/buildings/1/change/")
    expect(page.locator("#pin")).to_be_hidden()
    place = random_points(1, seed=4)[0]
    page.get_by_label("Latitude").fill(f"{place.latitude:.6f}")
    page.get_by_label("Longitude").fill(f"{place.longitude:.6f}")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("The building is saved.")).to_be_visible()
    context.close()


# ---- a tile source -----------------------------------------------------------------------------------------


def png() -> bytes:
    """A tile: 256 by 256 pixels of one gray (PNG, RFC 2083)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = zlib.compress((b"\x00" + b"\xc8" * 256) * 256)
    header = struct.pack(">IIBBBBB", 256, 256, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def set_source(page: Page, site: Site, url: str, whose: str) -> None:
    """As the coordinator does it."""
    page.goto(f"{site.address}/district/")
    page.get_by_role("link", name="Change where map pictures come from").click()
    page.get_by_label("Address of map tiles").fill(url)
    page.get_by_label("Whose map it is").fill(whose)
    page.get_by_role("button", name="Save").click()
    page.wait_for_load_state()


def test_tiles_are_asked_for_with_a_source_and_never_without(context: BrowserContext, roads_site: Site) -> None:
    """A real tile server on loopback: it is asked for tiles by number and for nothing else."""
    asked: list[str] = []

    def tiles(path: str, body: bytes) -> tuple[int, bytes]:
        asked.append(path)
        return (404, b"") if body else (200, png())

    with server_that(tiles) as url:
        watched = watch(context, roads_site, "coordinator")
        page = watched.page
        open_pin(page, roads_site)
        assert asked == []
        set_source(page, roads_site, url + "/{z}/{x}/{y}.png", "Fell Survey")
        expect(page.get_by_text(f"Maps are loaded from {url} from now on.")).to_be_visible()
        assert asked == []
        open_pin(page, roads_site)
        expect(page.locator(".leaflet-tile-loaded").first).to_be_attached()
        assert len(asked) >= 4
        on_form = len(asked)
        page.goto(f"{roads_site.address}/map/?teacher=1")
        page.wait_for_load_state("networkidle")
        assert len(asked) > on_form
        expect(page.get_by_text("Fell Survey")).to_be_visible()
        assert all(re.fullmatch(r"/\d+/\d+/\d+\.png", one) for one in asked)
        assert faults(page) == []
        set_source(page, roads_site, "", "")
        expect(page.get_by_text("Nothing is loaded from elsewhere.").first).to_be_visible()
        so_far = len(asked)
        open_pin(page, roads_site)
        page.goto(f"{roads_site.address}/map/?teacher=1")
        page.wait_for_load_state("networkidle")
        assert len(asked) == so_far
        assert watched.complaints == []
