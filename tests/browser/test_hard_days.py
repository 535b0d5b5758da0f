"""What goes wrong on a phone, against the real server: no room, and a clock that is wrong."""

import datetime as dt
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, CDPSession, Locator, Page, expect

from tests.browser.conftest import Site, empty_site, served, sign_in
from tests.browser.phone_day import TEACHER
from tests.browser.test_offline import HELD, LONG, wait_until_kept

pytestmark = [pytest.mark.browser, pytest.mark.long]
PLANNED = re.compile("^As planned")
TOLD = "from tests.browser.phone_day import told; told()"


@pytest.fixture
def hard_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Any) -> Iterator[Site]:
    """A full day of which nothing is logged."""
    ready = empty_site(tmp_path_factory.mktemp("hard"), tables)
    ready.manage("shell", "-c", "from tests.browser.phone_day import make_phone_day; make_phone_day()")
    with served(ready):
        yield ready


@pytest.fixture
def phone(chromium: Browser, hard_site: Site) -> Iterator[BrowserContext]:
    """The teacher's phone, signed in, with today kept."""
    context = chromium.new_context(**HELD)
    signed_in(context, hard_site, TEACHER)
    yield context
    context.close()


def signed_in(context: BrowserContext, site: Site, who: str) -> Page:
    page = context.new_page()
    sign_in(page, site, who)
    page.goto(f"{site.address}/day/")
    if who == TEACHER:
        wait_until_kept(page)
    return page


def opened(phone: BrowserContext, site: Site, path: str) -> Page:
    """A page whose queue has begun."""
    page = phone.new_page()
    page.goto(site.address + path)
    page.evaluate("phoneQueue.ready.then(() => phonePage.started)")
    return page


def card(log: Page, number: int) -> Locator:
    return log.locator(".log-session").nth(number)


def log_as_planned(log: Page, number: int) -> None:
    """One tap, without a signal."""
    card(log, number).get_by_role("button", name=PLANNED).click()
    expect(card(log, number)).to_contain_text("Not sent yet")


def stored(site: Site) -> list[dict[str, Any]]:
    """The log as the server has it, in the order in which it came."""
    found: list[dict[str, Any]] = json.loads(site.manage("shell", "-c", TOLD).splitlines()[-1])["log"]
    return found


def fill(session: CDPSession, site: Site, page: Page) -> None:
    """No room from now on. The browser looks at the limit anew after some seconds."""
    session.send("Storage.overrideQuotaForOrigin", {"origin": site.address, "quotaSize": 1})
    page.evaluate("""() => new Promise((done) => {
        const look = () => phoneStore.about.put("test", "x").then(() => setTimeout(look, 500), done);
        look();
    })""")


def test_a_phone_without_room_says_so_and_sends_what_it_can(phone: BrowserContext, hard_site: Site) -> None:
    """The browser's own limit lowered (CDP's Storage.overrideQuotaForOrigin): a tap without a signal isn't kept,
    and that is said; with one it goes as any form does."""
    log = opened(phone, hard_site, "/log/")
    session = phone.new_cdp_session(log)
    fill(session, hard_site, log)
    phone.set_offline(True)
    card(log, 0).get_by_role("button", name=PLANNED).click()
    expect(card(log, 0).get_by_role("alert")).to_contain_text(
        "Write it down, and make room on this phone", timeout=LONG
    )
    assert log.evaluate("phoneQueue.list()") == []
    phone.set_offline(False)
    card(log, 0).get_by_role("button", name=PLANNED).click()
    expect(log.get_by_text("Logged:").first).to_be_visible(timeout=LONG)
    assert [one["delivered"] for one in stored(hard_site)] == [30]
    session.send("Storage.overrideQuotaForOrigin", {"origin": hard_site.address})
    log.goto(f"{hard_site.address}/log/")
    phone.set_offline(True)
    log_as_planned(log, 1)


def test_a_clock_that_is_wrong_by_an_hour(phone: BrowserContext, hard_site: Site) -> None:
    """An hour ahead: the times that are told are the server's, whenever it is sent."""
    log = phone.new_page()
    log.clock.install(time=dt.datetime.now(dt.UTC) + dt.timedelta(hours=1))
    log.goto(f"{hard_site.address}/log/")
    log.evaluate("phoneQueue.ready.then(() => phoneQueue.reach())")
    phone.set_offline(True)
    before = dt.datetime.now(dt.UTC)
    log_as_planned(log, 0)
    after = dt.datetime.now(dt.UTC)
    at = dt.datetime.fromisoformat(log.evaluate("phoneQueue.list().then((all) => all[0].body.noted_at)"))
    slack = dt.timedelta(seconds=3)  # the Date header counts whole seconds
    assert before - slack <= at <= after + slack
    phone.set_offline(False)
    log.evaluate("phoneQueue.flush()")
    expect(log.locator("#unsent")).to_be_hidden(timeout=LONG)
    assert [one["delivered"] for one in stored(hard_site)] == [30]
