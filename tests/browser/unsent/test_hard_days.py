"""What goes wrong on one phone: no room, answers lost after the server saved, a clock that is wrong, and a browser
that may clear what it keeps."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, BrowserContext, CDPSession, Dialog, Page, Route, expect

from tests.browser.conftest import PHONE, Site, sign_in
from tests.browser.phone_day import TEACHER
from tests.browser.test_offline import HELD, LONG
from tests.browser.unsent.conftest import PLANNED, card, log_as_planned, opened, send, stored

pytestmark = [pytest.mark.browser, pytest.mark.long]


def fill(session: CDPSession, site: Site, page: Page) -> None:
    """No room from now on. The browser looks at the limit anew after some seconds, and counts what is written by
    then."""
    session.send("Storage.overrideQuotaForOrigin", {"origin": site.address, "quotaSize": 1})
    page.evaluate("""() => new Promise((done) => {
        const look = () => phoneStore.about.put("test", "x".repeat(99_999)).then(() => setTimeout(look, 500), done);
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
    assert stored(hard_site) == [[(30, TEACHER)]]
    session.send("Storage.overrideQuotaForOrigin", {"origin": hard_site.address})
    log.goto(f"{hard_site.address}/log/")
    phone.set_offline(True)
    log_as_planned(log, 1)


def test_a_phone_without_room_for_the_program_says_so(chromium: Browser, hard_site: Site) -> None:
    """Room for what is tapped, and none for the program's own files (CDP's Storage.overrideQuotaForOrigin)."""
    context = chromium.new_context(viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{hard_site.address}/health/")
    limit = {"origin": hard_site.address, "quotaSize": 250_000}
    context.new_cdp_session(page).send("Storage.overrideQuotaForOrigin", limit)
    sign_in(page, hard_site, TEACHER)
    page.goto(f"{hard_site.address}/day/")
    expect(page.get_by_text("no room left for the program itself")).to_be_visible(timeout=LONG)
    page.goto(f"{hard_site.address}/phone/")
    expect(page.get_by_text("no room left for the program itself")).to_be_visible(timeout=LONG)
    assert page.evaluate("navigator.serviceWorker.controller") is None
    context.close()


def test_answers_lost_after_the_server_saved(phone: BrowserContext, hard_site: Site) -> None:
    """Five sessions go together and the answer never comes; one more, and it doesn't come for any of the six."""
    log = opened(phone, hard_site, "/log/")

    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    phone.set_offline(True)
    for number in range(5):
        log_as_planned(log, number)
    phone.route(re.compile("/api/1/(sendings|session-logs)/"), lose)
    send(log)
    assert len(stored(hard_site)) == 5
    log_as_planned(log, 5)
    assert log.evaluate("phoneQueue.list().then((all) => all.length)") == 6
    phone.unroute_all(behavior="wait")
    log.evaluate("phoneQueue.flush()")
    expect(log.locator("#unsent")).to_be_hidden(timeout=LONG)
    assert stored(hard_site) == [[(30, TEACHER)]] * 6


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
    send(log)
    expect(log.locator("#unsent")).to_be_hidden(timeout=LONG)
    assert stored(hard_site) == [[(30, TEACHER)]]


def test_what_a_browser_may_clear_is_said_beforehand(phone: BrowserContext, hard_site: Site) -> None:
    """Six days unused (Safari clears after seven: webkit.org/blog/10218, its seven-day cap on what
    scripts store), and something that isn't sent; the page about the phone says by which date."""
    page = opened(phone, hard_site, "/phone/")
    by = dt.datetime.now(ZoneInfo(HELD["timezone_id"])) + dt.timedelta(days=7)
    expect(page.locator("#phone-persisted")).to_contain_text(f"open the program before {by:%A, %B} {by.day}")
    page.evaluate("""async () => {
        await phoneStore.about.put("phone-used", new Date(Date.now() - 6 * 86400000).toISOString());
        await phoneStore.about.put("phone-keeping", true);
    }""")
    page.goto(f"{hard_site.address}/day/")
    expect(page.get_by_text("You were last here 6 days ago")).to_be_visible(timeout=LONG)
    phone.route(re.compile("/api/1/"), lambda route: route.abort())
    log_as_planned(opened(phone, hard_site, "/log/"), 0)
    page.reload()
    expect(page.get_by_text("1 not sent yet. This browser may clear them")).to_be_visible(timeout=LONG)


def test_the_browser_is_asked_to_keep_it_for_good(
    chromium: Browser, phone: BrowserContext, hard_site: Site
) -> None:
    """Where it says yes (CDP's Browser.grantPermissions), nothing is warned of."""
    page = opened(phone, hard_site, "/phone/")
    which = phone.new_cdp_session(page).send("Target.getTargetInfo")["targetInfo"]["browserContextId"]
    granted = {"origin": hard_site.address, "permissions": ["durableStorage"], "browserContextId": which}
    chromium.new_browser_cdp_session().send("Browser.grantPermissions", granted)
    page.get_by_role("button", name="Keep the next days here").click()
    expect(page.locator("#phone-persisted")).to_have_text(
        "The browser has promised not to clear this by itself.", timeout=LONG
    )
    assert page.evaluate("navigator.storage.persisted()")
    page.evaluate("phoneStore.about.put('phone-used', new Date(Date.now() - 6 * 86400000).toISOString())")
    page.goto(f"{hard_site.address}/day/")
    page.evaluate("phonePage.started")
    expect(page.get_by_text("may clear")).to_have_count(0)


def test_signing_out_says_what_is_not_sent_and_it_is_sent_at_the_next_sign_in(
    phone: BrowserContext, hard_site: Site
) -> None:
    """Out of sight until then."""
    log = opened(phone, hard_site, "/log/")
    phone.route(re.compile("/api/1/"), lambda route: route.abort())
    log_as_planned(log, 0)
    log.get_by_role("button", name="Menu").click()
    said: list[str] = []

    def agree(asked: Dialog) -> None:
        said.append(asked.message)
        asked.accept()

    log.once("dialog", agree)
    log.get_by_role("button", name="Sign out").click()
    log.wait_for_url("**/sign-in/**")
    assert [text.partition(".")[0] for text in said] == ["1 not sent yet"]
    expect(log.locator("#unsent")).to_have_count(0)
    phone.unroute_all()
    sign_in(log, hard_site, TEACHER)
    log.evaluate("phoneQueue.ready.then(phoneQueue.flush)")
    expect(log.locator("#unsent")).to_be_hidden(timeout=LONG)
    assert stored(hard_site) == [[(30, TEACHER)]]
