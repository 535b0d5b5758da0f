"""A teacher's day on a phone without scripts: open, start, arrive, take a tap back, log; and on paper."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, Site, sign_in, unfold
from tests.browser.test_accessibility import LOOKS, faults
from tests.browser.today import DRIVER

pytestmark = pytest.mark.browser
HERE = re.compile("^I.m here")
START = re.compile("^Start driving")


@pytest.fixture(scope="module")
def day_site(site: Site) -> Site:
    """The server, with a teacher who drives today."""
    site.manage("shell", "-c", "from tests.browser.today import make_today; make_today()")
    return site


@pytest.fixture
def page(chromium: Browser, day_site: Site) -> Iterator[Page]:
    """Her phone, which runs no scripts."""
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    one = context.new_page()
    sign_in(one, day_site, DRIVER)
    yield one
    context.close()


def test_a_day_from_the_parking_lot(page: Page) -> None:
    """From signing in to the log, each tap back at its drive; the button is big enough for a cold thumb."""
    page.get_by_role("main").get_by_role("link", name="Today").click()
    expect(page.get_by_text("Tap only when parked.")).to_be_visible()
    unfold(page)
    box = page.get_by_role("button", name=START).bounding_box()
    assert box is not None
    assert box["height"] >= 60
    assert box["width"] >= 200
    page.get_by_role("button", name=START).click()
    assert re.search(r"/day/\d{4}-\d{2}-\d{2}/#leg-\d+-\d+-0905$", page.url)
    expect(page.get_by_text("On the way")).to_be_in_viewport()
    page.get_by_role("button", name=re.compile("^Undo the start")).click()
    page.get_by_role("button", name=START).click()
    page.get_by_role("button", name=HERE).click()
    expect(page.get_by_text(re.compile(r"Driven in \d minute"))).to_be_in_viewport()
    page.get_by_role("button", name=re.compile("^Undo arriving")).click()
    expect(page.get_by_role("button", name=HERE)).to_be_in_viewport()
    page.get_by_role("button", name=HERE).click()
    page.get_by_role("link", name=re.compile("^Log.*10:00 AM")).click()
    expect(page.get_by_role("main")).to_contain_text("Far Fell School")


def test_a_caution_is_one_tap_away_and_stands_on_paper(page: Page) -> None:
    """A short mark by the name, its text after one tap without a script; the paper needs none."""
    page.goto("/".join([*page.url.split("/")[:3], "day/"]))
    unfold(page)
    text = page.get_by_text("Latex in balls.")
    expect(text.locator("visible=true")).to_have_count(0)
    mark = page.get_by_text("Caution: Ola Tarn D1")
    box = mark.bounding_box()
    assert box is not None
    # WCAG 2.2, success criterion 2.5.5 (AAA): a target of at least 44 by 44 CSS pixels.
    assert (box["height"] >= 44, box["width"] >= 44) == (True, True)
    mark.click()
    expect(text.locator("visible=true")).to_have_count(1)
    mark.click()
    page.emulate_media(media="print")
    expect(text.locator("visible=true")).to_have_count(1)


def test_one_sheet_of_paper(chromium: Browser, day_site: Site) -> None:
    """The planned week's fullest days print on a page each, without buttons."""
    context = chromium.new_context()
    page = context.new_page()
    sign_in(page, day_site, "teacher")
    page.goto(f"{day_site.address}/week/1/")
    days = page.get_by_role("link", name=re.compile("^Day sheet")).evaluate_all("all => all.map(a => a.href)")
    assert len(days) == 5
    for address in days:
        page.goto(address)
        expect(page.locator(".day-line").first).to_be_visible()
        assert len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(prefer_css_page_size=True))) == 1
    context.close()


def test_a_filled_day_has_no_violations(chromium: Browser, day_site: Site) -> None:
    """The crawl of all pages may meet an empty day only; this one has sessions, drives and taps."""
    found = []
    for size, scheme in LOOKS:
        context = chromium.new_context(viewport=size, color_scheme=scheme)  # type: ignore[arg-type]
        page = context.new_page()
        sign_in(page, day_site, DRIVER)
        page.goto(f"{day_site.address}/day/")
        expect(page.locator(".day-line")).to_have_count(4)
        found += faults(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        context.close()
    assert found == []
