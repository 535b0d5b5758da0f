"""An aide's new hours in mid-term, as a teacher gives them, chooses a way, publishes and takes both back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.conftest import Site
from tests.browser.terms.asking import (
    first_term,
    looks,
    planned,
    published,
    said,
    saved,
    site_of,
    taken_back,
    taken_this_way,
    teachers_page,
)
from tests.browser.terms.districts import WEEKS, changes_on

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def site_with_aide(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """Two schools, two students, and the aide of one."""
    with site_of("with_aide", tmp_path_factory.mktemp("with-aide"), tables) as ready:
        yield ready


def test_new_hours_begin_in_the_week_from_which_they_hold(context: BrowserContext, site_with_aide: Site) -> None:
    """Given on the aides' page, planned from the next week on: nobody moves before the aide's hours do."""
    page, since = teachers_page(context, site_with_aide), changes_on()
    in_force = first_term(page, site_with_aide)

    page.goto(f"{site_with_aide.address}/students/")
    page.get_by_role("link", name="Aides", exact=True).click()
    expect(page.get_by_text("Needed by ")).to_be_visible()
    page.get_by_role("link", name="New hours of Ms. Orel").click()
    page.get_by_label("From").fill(since.isoformat())
    page.get_by_label("Hours", exact=True).fill("Mon-Fri 12:00-3:00")
    assert looks(page) == []
    saved(page, r"/aides/#aide-")
    later = page.get_by_role("listitem").filter(has_text=f"From {said(since)}, {since.year}:")
    expect(later).to_contain_text("Mon-Fri 12:00 to 3:00")
    assert looks(page) == []

    page.goto(in_force)
    page.get_by_role("link", name="Something changes").click()
    planned(page)
    begins = f"Begins in the week of {said(since)}."
    way = page.locator(".card", has_text=begins)
    expect(way).to_contain_text("Whom to tell")
    expect(way).to_contain_text("North Hollow School")
    taken_this_way(page, begins, f"From {said(since)}")
    published(page)
    taken_back(page, WEEKS)

    page.goto(f"{site_with_aide.address}/aides/")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("Taken back.")).to_be_visible()
    expect(later).to_have_count(0)
