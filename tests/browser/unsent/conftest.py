"""A server with a full day of which nothing is logged, the same for each test, and phones in front of it."""

import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import groupby
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.conftest import Site, empty_site, served, sign_in
from tests.browser.phone_day import TEACHER
from tests.browser.test_offline import HELD

type Versions = list[tuple[int, str]]
"""Of one entry of the log: minutes, and who said so, the first version first."""
type Phones = Callable[[], BrowserContext]

PLANNED = re.compile("^As planned")
MADE = "from tests.browser.phone_day import make_phone_day; make_phone_day()"
LOGGED = """
    SELECT version.entry_id, version.delivered_minutes, person.username
    FROM caseload_deliveryversion AS version JOIN accounts_person AS person ON person.id = version.logged_by_id
    ORDER BY version.entry_id, version.number
"""


@pytest.fixture(scope="session")
def made_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """A server of its own."""
    ready = empty_site(tmp_path_factory.mktemp("unsent"), tables)
    ready.manage("shell", "-c", MADE)
    with opened_database(ready) as now, closing(sqlite3.connect(kept_as(ready))) as kept:
        now.backup(kept)
    with served(ready):
        yield ready


@pytest.fixture
def hard_site(made_site: Site) -> Site:
    """The day as it was made, whatever the test before did to it."""
    with closing(sqlite3.connect(kept_as(made_site))) as kept, opened_database(made_site) as now:
        kept.backup(now)
    return made_site


@pytest.fixture
def phones(chromium: Browser, hard_site: Site) -> Iterator[Phones]:
    """The teacher's phones, signed in; they keep no pages for later, which would take the server's time."""
    made: list[BrowserContext] = []

    def one() -> BrowserContext:
        context = chromium.new_context(**HELD)
        made.append(context)
        page = context.new_page()
        page.goto(f"{hard_site.address}/sign-in/")
        page.evaluate("phoneStore.about.put('phone-keeping', false)")
        sign_in(page, hard_site, TEACHER)
        return context

    yield one
    for context in made:
        context.close()


@pytest.fixture
def phone(phones: Phones) -> BrowserContext:
    """One of them."""
    return phones()


def database(site: Site) -> Path:
    """The server's file."""
    return Path(site.environment["DATABASE_URL"].removeprefix("sqlite:///"))


def kept_as(site: Site) -> Path:
    """The same as it was made."""
    return database(site).with_suffix(".made")


@contextmanager
def opened_database(site: Site) -> Iterator[sqlite3.Connection]:
    """The server's database beside the server."""
    with closing(sqlite3.connect(database(site), timeout=20)) as found:
        yield found


def stored(site: Site) -> list[Versions]:
    """The log as the server has it: the versions of each entry, in the order in which they came."""
    with opened_database(site) as found:
        rows = found.execute(LOGGED).fetchall()
    return [[(minutes, who) for _, minutes, who in each] for _, each in groupby(rows, lambda row: row[0])]


def opened(phone: BrowserContext, site: Site, path: str) -> Page:
    """A page whose queue has begun."""
    page = phone.new_page()
    page.goto(site.address + path)
    page.evaluate("phoneQueue.ready.then(() => phonePage.started)")
    return page


def card(log: Page, number: int) -> Locator:
    """A session of the log."""
    return log.locator(".log-session").nth(number)


def log_as_planned(log: Page, number: int, *, absent: bool = False) -> None:
    """One tap, without a signal."""
    if absent:
        card(log, number).locator("[name=absent]").check()
    card(log, number).get_by_role("button", name=PLANNED).click()
    expect(card(log, number)).to_contain_text("Not sent yet")


def send(page: Page) -> None:
    """There is a signal, and it is sent at once."""
    page.context.set_offline(False)
    page.evaluate("phoneQueue.flush()")
