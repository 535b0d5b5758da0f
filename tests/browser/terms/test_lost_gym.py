"""A gym that is lost in mid-term, as a teacher enters it, chooses a way, publishes and takes it back."""

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, empty_site, served, sign_in
from tests.browser.term_change import WEEKS, last_day_of_gym, next_monday

pytestmark = pytest.mark.browser
ANSWER = 300_000
"""Milliseconds: a term may take several times its seconds by the clock of a busy machine."""


@pytest.fixture(scope="module")
def small_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """A district of two schools and two students, with a server of its own."""
    ready = empty_site(tmp_path_factory.mktemp("small-site"), tables)
    ready.manage("shell", "-v0", "-c", "from tests.browser.term_change import make_district; make_district()")
    with served(ready):
        yield ready


def looks(page: Page) -> list[str]:
    """What is wrong with the page, on a desk and on a phone, light and dark."""
    found: list[str] = []
    for size in (DESK, PHONE):
        for scheme in ("light", "dark"):
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)
            found += [f"{size['width']} {scheme}: {one['id']}" for one in Axe().run(page).response["violations"]]
            if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                found.append(f"scrolls sideways at {size['width']} pixels")
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    return found


def said(date: dt.date) -> str:
    """A date as pages write it."""
    return f"{date:%B} {date.day}"


def planned(page: Page) -> None:
    """Ask for the term as the form stands, and wait until it is there."""
    page.get_by_label("Search for at most").select_option("30")
    page.get_by_role("button", name="Plan the term").click()
    page.wait_for_url(re.compile(r"/term/\d+/$"))
    page.get_by_role("heading", name="Week by week").wait_for(timeout=ANSWER)


def published(page: Page) -> None:
    page.get_by_role("button", name="Publish the whole term").click()
    expect(page.get_by_text(re.compile(r"The standing timetable and \d+ weeks are in force"))).to_be_visible()


def test_a_lost_gym_begins_in_the_week_in_which_it_is_lost(context: BrowserContext, small_site: Site) -> None:
    """Entered on its school's page, planned from the next week on: nothing moves before the gym is gone."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(f"a script failed: {error}"))
    sign_in(page, small_site, "teacher")
    monday, last = next_monday(), last_day_of_gym()
    page.goto(f"{small_site.address}/term/plan/?week={monday}")
    page.get_by_label("Until").fill((monday + dt.timedelta(days=7 * WEEKS - 3)).isoformat())
    planned(page)
    published(page)
    in_force = page.url

    page.goto(f"{small_site.address}/buildings/")
    page.get_by_role("link", name="North Hollow School", exact=True).click()
    page.get_by_role("link", name="Change Gym").click()
    page.get_by_label("Last day").fill(last.isoformat())
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text(f"until {said(last)}, {last.year}")).to_be_visible()

    page.goto(in_force)
    page.get_by_role("link", name="Something changes").click()
    planned(page)
    begins = f"Begins in the week of {said(last + dt.timedelta(days=1))}."
    way = page.locator(".card", has_text=begins)
    expect(way).to_contain_text("Whom to tell")
    expect(way).to_contain_text("North Hollow School")
    assert looks(page) == []
    at_once = page.url
    way.get_by_role("button", name="Plan it this way instead").click()
    page.wait_for_url(lambda address: address != at_once and re.search(r"/term/\d+/$", address) is not None)
    page.get_by_role("heading", name=f"From {said(last + dt.timedelta(days=1))}").wait_for(timeout=ANSWER)
    assert looks(page) == []

    published(page)
    page.get_by_text("Take this timetable back").click()
    page.get_by_role("button", name="Yes, take it back").click()
    expect(page.get_by_text("The standing timetable is taken back.")).to_be_visible()
    expect(page.get_by_text(f"{WEEKS} weeks are as before.")).to_be_visible()
