"""An aide's new hours in mid-term, as a teacher gives them, chooses a way, publishes and takes both back."""

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.conftest import Site, empty_site, served, sign_in
from tests.browser.term_change import WEEKS, last_day_of_gym, next_monday
from tests.browser.test_term_change import ANSWER, looks, planned, published, said

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def small_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """A district of two schools, two students and an aide, with a server of its own."""
    ready = empty_site(tmp_path_factory.mktemp("aides-site"), tables)
    ready.manage("shell", "-v0", "-c", "from tests.browser.aide_hours import make_district; make_district()")
    with served(ready):
        yield ready


def test_new_hours_begin_in_the_week_from_which_they_hold(context: BrowserContext, small_site: Site) -> None:
    """Given on the aides' page, planned from the next week on: nobody moves before the aide's hours do."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(f"a script failed: {error}"))
    sign_in(page, small_site, "teacher")
    monday, since = next_monday(), last_day_of_gym() + dt.timedelta(days=1)
    page.goto(f"{small_site.address}/term/plan/?week={monday}")
    page.get_by_label("Until").fill((monday + dt.timedelta(days=7 * WEEKS - 3)).isoformat())
    planned(page)
    published(page)
    in_force = page.url

    page.goto(f"{small_site.address}/students/")
    page.get_by_role("link", name="Aides", exact=True).click()
    page.wait_for_url(re.compile(r"/aides/$"))
    expect(page.get_by_text("Needed by ")).to_be_visible()
    page.get_by_role("link", name="New hours of Ms. Orel").click()
    page.get_by_label("From").fill(since.isoformat())
    page.get_by_label("Hours", exact=True).fill("Mon-Fri 12:00-3:00")
    assert looks(page) == []
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/aides/"))
    later = page.get_by_role("listitem").filter(has_text=f"From {said(since)}, {since.year}:")
    expect(later).to_contain_text("Mon-Fri 12:00 to 3:00")
    assert looks(page) == []

    page.goto(in_force)
    page.get_by_role("link", name="Something changes").click()
    planned(page)
    way = page.locator(".card", has_text=f"Begins in the week of {said(since)}.")
    expect(way).to_contain_text("Whom to tell")
    expect(way).to_contain_text("North Hollow School")
    at_once = page.url
    way.get_by_role("button", name="Plan it this way instead").click()
    page.wait_for_url(lambda address: address != at_once and re.search(r"/term/\d+/$", address) is not None)
    page.get_by_role("heading", name=f"From {said(since)}").wait_for(timeout=ANSWER)
    published(page)
    page.get_by_text("Take this timetable back").click()
    page.get_by_role("button", name="Yes, take it back").click()
    expect(page.get_by_text("The standing timetable is taken back.")).to_be_visible()

    page.goto(f"{small_site.address}/aides/")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("Taken back.")).to_be_visible()
    expect(later).to_have_count(0)
