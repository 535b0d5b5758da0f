"""What to ask for, what staying the same costs, and named drafts, in a real browser on the invented district."""

import re
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, sign_in

pytestmark = pytest.mark.browser
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
ANSWER = 180_000
"""Milliseconds: a question takes up to two minutes where not everything can be proved sooner."""


@pytest.fixture
def page(context: BrowserContext, site: Site) -> Page:
    """The compare page of the week in force, the teacher signed in; no script error may happen on it."""
    one = context.new_page()
    one.on("pageerror", lambda error: pytest.fail(f"a script failed: {error}"))
    sign_in(one, site, "teacher")
    one.goto(f"{site.address}/week/1/compare/")
    return one


def looks(page: Page) -> list[str]:
    """What is wrong with the page, wide and narrow, light and dark."""
    found: list[str] = []
    for size in (DESK, PHONE):
        for scheme in SCHEMES:
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)
            found += [f"{size['width']} {scheme}: {one['id']}" for one in Axe().run(page).response["violations"]]
            if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                found.append(f"scrolls sideways at {size['width']} pixels")
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    return found


def test_favors_come_while_the_page_waits_and_stop_when_asked(page: Page) -> None:
    """Stopping keeps what was found so far; the page says how many were looked at, and needs no reloading."""
    favors = page.locator("#favors")
    favors.get_by_role("button", name="Find what to ask for").click()
    expect(favors.get_by_role("progressbar")).to_be_visible()
    page.wait_for_timeout(5_000)
    favors.get_by_role("button", name="Stop and keep what was found").click()
    expect(favors.get_by_role("button", name="Look again")).to_be_visible(timeout=ANSWER)
    expect(favors).to_contain_text(re.compile(r"\d+ favors were looked at"))
    assert looks(page) == []


def test_a_point_of_the_curve_becomes_a_named_draft(page: Page, site: Site) -> None:
    """Weighed, chosen, saved, named, put beside another: the name leads every list."""
    curve = page.locator("#curve")
    curve.get_by_role("button", name="Compare").click()
    expect(curve.get_by_role("button", name="Compare again")).to_be_visible(timeout=ANSWER)
    points = curve.get_by_role("radio")
    assert points.count() >= 1
    if points.count() > 1:
        expect(curve.get_by_role("img", name=re.compile("Driving against moved sessions"))).to_be_visible()
    assert looks(page) == []
    points.last.check()
    said = curve.locator(".point").last.locator("label").inner_text()
    curve.get_by_role("button", name="Save as a draft").click()
    expect(page.get_by_text("This week is saved as a draft.")).to_be_visible()
    moved, driving = (int(one) for one in re.findall(r"\d+", said)[:2])
    name = page.get_by_label("Name of this draft")
    expect(name).to_have_value(re.compile(rf"^{moved} sessions? moved, {driving} minutes of driving$"))
    name.fill("Fewer moves")
    page.get_by_role("button", name="Save the name").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Fewer moves")
    page.goto(f"{site.address}/week/1/compare/")
    choice = page.get_by_label("Compare with")
    assert any("Fewer moves" in words for words in choice.locator("option").all_inner_texts())
    assert looks(page) == []
