"""A server with days around now, and the phone of whoever has one of them."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page

from tests.browser.conftest import PHONE, Site, empty_site, served, sign_in

type Made = dict[str, Any]
"""What `make_hand_day` prints."""

LONG = 60_000
"""Milliseconds for what a busy machine may take."""


@pytest.fixture(scope="module")
def hand_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """A server of its own."""
    ready = empty_site(tmp_path_factory.mktemp("hand"), tables)
    with served(ready):
        yield ready


@pytest.fixture
def hand(hand_site: Site) -> Made:
    """A day around now, made anew for each test."""
    made = "from tests.browser.in_hand.hand_day import make_hand_day; make_hand_day()"
    found: Made = json.loads(hand_site.manage("shell", "-c", made).splitlines()[-1])
    return found


@pytest.fixture
def phone(chromium: Browser, hand_site: Site, hand: Made) -> Iterator[Page]:
    """The teacher's, signed in, where the district is."""
    context = phone_in(chromium, hand)
    page = context.new_page()
    sign_in(page, hand_site, hand["username"])
    yield page
    context.close()


def phone_in(chromium: Browser, hand: Made) -> BrowserContext:
    """A phone in the district's time zone."""
    return chromium.new_context(viewport=PHONE, has_touch=True, timezone_id=hand["zone"])  # type: ignore[arg-type]


def card(page: Page, hand: Made, number: int) -> Locator:
    """A session of Today or of the log."""
    return page.locator(f"#s-{hand['sessions'][number]}")


def open_today(page: Page, site: Site) -> None:
    """With its script done."""
    page.goto(f"{site.address}/day/")
    page.evaluate("phoneQueue.ready")
