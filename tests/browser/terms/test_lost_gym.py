"""A gym that is lost in mid-term, as a teacher enters it, chooses a way, publishes and takes it back."""

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
    site_of,
    taken_back,
    taken_this_way,
    teachers_page,
)
from tests.browser.terms.districts import WEEKS, changes_on, last_day_before

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def site_with_gym(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """Two schools, one with a gym, and two students."""
    with site_of("with_gym", tmp_path_factory.mktemp("with-gym"), tables) as ready:
        yield ready


def test_a_lost_gym_begins_in_the_week_in_which_it_is_lost(context: BrowserContext, site_with_gym: Site) -> None:
    """Entered on its school's page, planned from the next week on: nothing moves before the gym is gone."""
    page, last = teachers_page(context, site_with_gym), last_day_before()
    in_force = first_term(page, site_with_gym)

    page.goto(f"{site_with_gym.address}/buildings/")
    page.get_by_role("link", name="North Hollow School", exact=True).click()
    page.get_by_role("link", name="Change Gym").click()
    page.get_by_label("Last day").fill(last.isoformat())
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("planned sessions fall outside")).to_be_visible()
    page.get_by_role("button", name="Save it all the same").click()
    expect(page.get_by_text(f"until {said(last)}, {last.year}")).to_be_visible()

    page.goto(in_force)
    page.get_by_role("link", name="Something changes").click()
    planned(page)
    begins = f"Begins in the week of {said(changes_on())}."
    way = page.locator(".card", has_text=begins)
    expect(way).to_contain_text("Whom to tell")
    expect(way).to_contain_text("North Hollow School")
    assert looks(page) == []
    taken_this_way(page, begins, f"From {said(changes_on())}")
    assert looks(page) == []

    published(page)
    taken_back(page, WEEKS)
