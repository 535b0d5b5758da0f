"""Pages of the class hour once there is something on them, through axe-core; and a progress report's whole way."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESK, Site, sign_in
from tests.browser.test_accessibility import LOOKS, faults

pytestmark = pytest.mark.browser
TEACHER = "Hollis Marchbanks"

type Rows = dict[str, str | int]
"""What `make_class_hours` made, by name."""


@pytest.fixture(scope="module")
def rows(site: Site) -> Rows:
    """Made once for this file."""
    told = site.manage("shell", "-c", "from tests.browser.class_hours import make_class_hours; make_class_hours()")
    made: Rows = json.loads(told.splitlines()[-1])
    return made


@pytest.fixture
def page(chromium: Browser, site: Site) -> Iterator[Page]:
    """The teacher's, signed in."""
    context = chromium.new_context(viewport=DESK, timezone_id="America/New_York")  # type: ignore[arg-type]
    one = context.new_page()
    sign_in(one, site, "teacher")
    yield one
    context.close()


def found_on(page: Page) -> list[str]:
    """What is wrong with the page that is open: wide and light, narrow and dark."""
    found = []
    for size, scheme in LOOKS[:2]:
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        found.extend(faults(page))
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            found.append(f"{page.url} scrolls sideways at {size['width']} pixels")
    return found


def test_a_goal_and_its_reports_have_no_violations(page: Page, site: Site, rows: Rows) -> None:
    """The goal with its chart, a draft, a signed report, and its print for either reader."""
    found = []
    for path in (f"/goals/{rows['goal']}/", f"/progress-reports/{rows['draft']}/"):
        page.goto(site.address + path)
        expect(page.get_by_role("img", name="Chart of 5 data points").first).to_be_visible()
        found.extend(found_on(page))
    for audience in ("team", "family"):
        page.goto(f"{site.address}/progress-reports/{rows['signed']}/")
        found.extend(found_on(page))
        page.get_by_role("button", name=f"Print for the {audience}").click()
        page.wait_for_url(f"**/print/{audience}/")
        expect(page.get_by_text(f"{TEACHER}, ")).to_be_visible()
        found.extend(found_on(page))
    assert sorted(set(found)) == []


def test_stations_and_cards_have_no_violations(page: Page, site: Site, rows: Rows) -> None:
    """Who is where in a session, its set-up, and the cards to print."""
    found = []
    for path, heading in (("", "Round 1"), ("set-up/", ""), ("cards/", "Cards")):
        page.goto(f"{site.address}/sessions/{rows['session']}/stations/{path}")
        expect(page.get_by_role("heading", name=heading).first).to_be_visible()
        found.extend(found_on(page))
    assert found == []


def test_a_running_hour_has_no_violations(page: Page, site: Site, rows: Rows) -> None:
    """While its first part is on."""
    page.clock.install(time=f"{rows['date']}T{rows['start']}-05:00")
    page.goto(f"{site.address}/class-hour/{rows['date']}/{rows['session']}/run/")
    expect(page.get_by_role("button", name="Go on now")).to_be_visible()
    assert found_on(page) == []


def test_a_running_part_offers_the_goals_that_it_serves(page: Page, site: Site, rows: Rows) -> None:
    """Its own first; all of them by a press, and back; what somebody has begun to type stays."""
    page.clock.install(time=f"{rows['date']}T{rows['start']}-05:00")
    page.goto(f"{site.address}/class-hour/{rows['date']}/{rows['session']}/run/")
    expect(page.locator("#run-goals")).to_contain_text("Will strike a ball off a tee")
    page.get_by_text("Take data:").click()
    taken = page.locator(".take-goal:visible")
    expect(taken).to_have_count(1)
    every = page.locator(".take-goal").count()
    assert every > 1
    page.get_by_role("button", name="Show all goals").click()
    expect(taken).to_have_count(every)
    page.locator(".take-goal input[name=value][type=text]").last.fill("3")
    page.get_by_role("button", name="Only this part").click()
    expect(taken).to_have_count(2)
    assert faults(page) == []


def test_a_packet_opened_by_its_link_has_no_violations(chromium: Browser, site: Site, rows: Rows) -> None:
    """By somebody who isn't signed in: what the link shows first, and all that a press opens."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    one = context.new_page()
    one.goto(f"{site.address}/packets/{rows['secret']}/")
    found = found_on(one)
    one.get_by_role("button", name="Open the packet").click()
    expect(one.get_by_text("Cautions first, then each day")).to_be_visible()
    found.extend(found_on(one))
    context.close()
    assert found == []


def test_a_report_is_begun_read_signed_printed_and_opened_again(page: Page, site: Site, rows: Rows) -> None:
    """A part that nobody has read refuses the signature; what was worded is in the signed one; it leaves as PDF."""
    page.goto(f"{site.address}/students/{rows['student']}/")
    page.get_by_role("link", name="Progress reports").click()
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_text("nobody has read yet")).to_be_visible()
    boxes = page.get_by_role("checkbox", name="I have read this part")
    for box in boxes.all()[1:]:
        box.check()
    page.get_by_role("textbox", name="Words about: Attendance").first.fill("Worded by hand for the team.")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("1 part nobody has read yet")).to_be_visible()

    page.get_by_label("Your name").fill(TEACHER)
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("nobody has read")
    assert faults(page) == []

    page.get_by_role("checkbox", name="I have read this part", checked=False).click()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("every part has been read")).to_be_visible()
    page.get_by_label("Your name").fill(TEACHER)
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_text(f"by {TEACHER} on")).to_be_visible()
    expect(page.get_by_text("Worded by hand for the team.")).to_be_visible()
    expect(boxes).to_have_count(0)

    for reader in ("team", "family"):
        with page.expect_download() as answer:
            page.get_by_role("button", name=f"PDF for the {reader}").click()
        assert Path(answer.value.path()).read_bytes().startswith(b"%PDF-")

    page.get_by_role("button", name="Open it again").click()
    expect(page.get_by_text("A draft.")).to_be_visible()
    expect(page.get_by_role("button", name="Sign", exact=True)).to_be_visible()
    expect(page.get_by_role("button", name="PDF for the team")).to_have_count(0)
