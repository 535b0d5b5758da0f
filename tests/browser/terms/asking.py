"""What a teacher does on the pages of a term, and how these look."""

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, empty_site, served, sign_in
from tests.browser.terms.districts import WEEKS, next_monday

ANSWER = 300_000
"""Milliseconds: a term may take several times its seconds by the clock of a busy machine."""


@contextmanager
def site_of(made: str, folder: Path, tables: Path) -> Iterator[Site]:
    """A district of ``tests.browser.terms.districts`` with a server of its own."""
    ready = empty_site(folder, tables)
    ready.manage("shell", "-v0", "-c", f"from tests.browser.terms.districts import {made}; {made}()")
    with served(ready):
        yield ready


def teachers_page(context: BrowserContext, site: Site) -> Page:
    """A page of the teacher's; a script that fails fails the test."""
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(f"a script failed: {error}"))
    sign_in(page, site, "teacher")
    return page


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
    page.emulate_media(color_scheme="light")
    return found


def said(date: dt.date) -> str:
    """A date as pages write it."""
    return f"{date:%B} {date.day}"


def saved(page: Page, address: str, button: str = "Save") -> None:
    """Save the form, and wait for the page that comes after it: a part of its address."""
    page.get_by_role("button", name=button, exact=True).click()
    page.wait_for_url(re.compile(address))


def planned(page: Page) -> None:
    """Ask for the term as the form stands, and wait until it is there."""
    page.get_by_label("Search for at most").select_option("30")
    page.get_by_role("button", name="Plan the term").click()
    page.wait_for_url(re.compile(r"/term/\d+/$"))
    page.get_by_role("heading", name="Week by week").wait_for(timeout=ANSWER)


def published(page: Page) -> None:
    """Put the term that is open in force."""
    page.get_by_role("button", name="Publish the whole term").click()
    expect(page.get_by_text(re.compile(r"The standing timetable and \d+ weeks are in force"))).to_be_visible()


def first_term(page: Page, site: Site) -> str:
    """Plan and publish the weeks ahead; the address of their timetable."""
    page.goto(f"{site.address}/term/plan/?week={next_monday()}")
    page.get_by_label("Until").fill((next_monday() + dt.timedelta(days=7 * WEEKS - 3)).isoformat())
    planned(page)
    published(page)
    return page.url


def taken_this_way(page: Page, words: str, then: str) -> None:
    """Plan by the way beside the first whose card says ``words``; wait for the heading ``then``."""
    before = page.url
    way = page.locator(".card", has_text=words)
    way.get_by_role("button", name="Plan it this way instead").click()
    page.wait_for_url(lambda address: address != before and re.search(r"/term/\d+/$", address) is not None)
    page.get_by_role("heading", name=then).wait_for(timeout=ANSWER)


def taken_back(page: Page, weeks: int) -> None:
    """Take the timetable that is open back; so many weeks are as they were."""
    page.get_by_text("Take this timetable back").click()
    page.get_by_role("button", name="Yes, take it back").click()
    expect(page.get_by_text("The standing timetable is taken back.")).to_be_visible()
    expect(page.get_by_text(f"{weeks} weeks are as before.")).to_be_visible()
