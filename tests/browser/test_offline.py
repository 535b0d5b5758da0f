"""A day from the phone's own store: at phone size, without signal, killed and opened again."""

import datetime as dt
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import PHONE, Site, chromium_path, empty_site, served, sign_in, unfold
from tests.browser.offline_day import COVER, LEAVER, OTHER, ROUTINE, SUPPORT, WRITTEN
from tests.browser.today import DRIVER

pytestmark = pytest.mark.browser
PASSCODE = "four words at random"
HELD: dict[str, Any] = {"viewport": PHONE, "has_touch": True, "is_mobile": True, "timezone_id": "America/New_York"}
"""A phone where the district is."""
LONG = 60_000
"""Milliseconds for what a busy machine may take."""


@pytest.fixture(scope="module")
def offline_site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """A server of its own: accounts are stopped here."""
    ready = empty_site(tmp_path_factory.mktemp("offline"), tables)
    ready.manage("shell", "-c", "from tests.browser.offline_day import make_offline_day; make_offline_day()")
    with served(ready):
        yield ready


@pytest.fixture
def phone(chromium: Browser, offline_site: Site) -> Iterator[BrowserContext]:
    """Her phone, signed in, with today kept."""
    context = chromium.new_context(**HELD)
    page = context.new_page()
    sign_in(page, offline_site, DRIVER)
    page.goto(f"{offline_site.address}/day/")
    wait_until_kept(page)
    yield context
    context.close()


def wait_until_kept(page: Page) -> None:
    """Until the worker has kept all pages once."""
    page.evaluate("""() => new Promise((done) => {
        const look = async () => ((await phoneStore.about.get("phone-kept")) ? done() : setTimeout(look, 100));
        look();
    })""")


def stored(page: Page) -> str:
    """Everything in the database of the phone, as text."""
    text: str = page.evaluate("""async () => {
        const database = await phoneStore.open();
        const told = [];
        for (const name of database.objectStoreNames) {
            for (const one of await database.getAll(name)) {
                told.push(JSON.stringify(one), one.bytes ? new TextDecoder().decode(one.bytes) : "");
            }
        }
        return told.join(" ");
    }""")
    return text


def readable(page: Page) -> str:
    """What somebody could read of it: runs of at least a dozen characters, since three letters of a name stand in a
    megabyte of encrypted bytes by chance, about once in twenty runs."""
    return "\n".join(re.findall(r"[ -~]{12,}", stored(page)))


def set_passcode(page: Page, site: Site) -> None:
    """On the page about it, until pages with names are kept."""
    page.goto(f"{site.address}/phone/")
    page.get_by_label("New passcode").fill(PASSCODE)
    page.get_by_label("Once more").fill(PASSCODE)
    page.get_by_role("button", name="Set the passcode").click()
    expect(page.locator("#phone-said")).to_contain_text("kept with names", timeout=LONG)


def test_today_is_there_without_signal_with_its_time(phone: BrowserContext, offline_site: Site) -> None:
    """The worker controls the page; students by initials, nothing about them, and when it was so."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    assert page.evaluate("Boolean(navigator.serviceWorker.controller)")
    expect(page.get_by_role("status").filter(has_text="As of")).to_contain_text(
        re.compile("(just now|minutes? ago)")
    )
    unfold(page)
    expect(page.get_by_role("link", name="O.T. D0")).to_be_visible()
    expect(page.get_by_text(ROUTINE)).to_be_visible()
    expect(page.get_by_role("button", name="Start driving").first).to_be_visible()
    unfold(page)
    page.get_by_role("link", name="Run it").last.click()
    expect(page.get_by_role("heading", name="Warm up").first).to_be_attached()
    expect(page.get_by_text("As of")).to_be_visible()


def test_a_running_hour_is_loaded_again_without_signal(phone: BrowserContext, offline_site: Site) -> None:
    """What was tapped in it is where it was."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    unfold(page)
    page.get_by_role("link", name="Run it").last.click()
    page.wait_for_url("**/run/")
    before = page.url
    # While the session runs, whenever the test does: it begins at 10:00.
    now = dt.datetime.now(ZoneInfo(HELD["timezone_id"]))
    page.clock.set_fixed_time(now.replace(hour=10, minute=4, second=0))
    page.reload()
    page.get_by_role("button", name="1 more minute").click()
    expect(page.get_by_role("button", name="Take the last tap back")).to_be_enabled()
    page.reload()
    assert page.url == before
    expect(page.get_by_text("As of")).to_be_visible()
    expect(page.get_by_role("button", name="Take the last tap back")).to_be_enabled()


def test_a_page_that_is_not_kept_says_so_and_leads_to_those_that_are(
    phone: BrowserContext, offline_site: Site
) -> None:
    """Instead of the browser's own error."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/students/")
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    page.locator("#phone-days a").first.click()
    expect(page.get_by_text("As of")).to_be_visible()
    phone.set_offline(False)
    page.goto(f"{offline_site.address}/students/")
    expect(page.get_by_role("heading", name="Students")).to_be_visible()


def test_help_and_the_manual_are_there_without_signal(phone: BrowserContext, offline_site: Site) -> None:
    """One tap to the lines (of the kept date), one more to the chapter, which names nobody; no age of the queue."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    help_button = page.get_by_role("button", name="Help")
    size = help_button.bounding_box()
    assert size is not None
    # WCAG 2.2, 2.5.5 Target Size (Enhanced): 44 by 44 CSS pixels.
    assert min(size["width"], size["height"]) >= 44
    help_button.click()
    expect(page.get_by_role("region", name="Help")).to_contain_text("One day, stop by stop")
    page.get_by_role("link", name="More in the manual").click()
    page.wait_for_url("**/manual/morning/#your-day-stop-by-stop")
    expect(page.get_by_role("heading", name="Your day, stop by stop")).to_be_in_viewport()
    expect(page.locator("meta[name=person]")).to_have_count(0)
    page.goto(f"{offline_site.address}/unsent/")
    expect(page.get_by_text("Everything is sent.")).to_be_visible()
    expect(page.locator(".kept-page")).to_have_count(0)


def test_help_opens_where_no_script_runs(chromium: Browser, offline_site: Site) -> None:
    """By the browser itself (HTML, the popover attribute)."""
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{offline_site.address}/sign-in/")
    expect(page.get_by_role("region", name="Help")).to_be_hidden()
    page.get_by_role("button", name="Help").click()
    expect(page.get_by_role("region", name="Help")).to_be_visible()
    context.close()


def test_nothing_about_a_student_lies_readable_on_the_phone(phone: BrowserContext, offline_site: Site) -> None:
    """Neither without a passcode nor with one; with one nothing but addresses and times can be read at all."""
    page = phone.pages[0]
    text = readable(page)
    assert ROUTINE in text
    for secret in ("Ola", "Tarn", *WRITTEN):
        assert secret not in text
    set_passcode(page, offline_site)
    text = readable(page)
    assert "/day/" in text
    for secret in ("Ola", "Tarn", PASSCODE, ROUTINE, *WRITTEN):
        assert secret not in text


def test_with_a_passcode_a_killed_phone_shows_names_again(
    chromium: Browser, offline_site: Site, tmp_path: Path
) -> None:
    """Locked after it was closed; a wrong passcode opens nothing; the right one shows what came with names."""
    # The worker goes by the machine's time zone, whatever a page's is told to be.
    zone = {**os.environ, "TZ": HELD["timezone_id"]}
    options: dict[str, Any] = {**HELD, "env": zone, "executable_path": chromium_path(), "args": ["--no-sandbox"]}
    one = chromium.browser_type.launch_persistent_context(tmp_path / "profile", **options)
    page = one.new_page()
    sign_in(page, offline_site, DRIVER)
    page.goto(f"{offline_site.address}/day/")
    wait_until_kept(page)
    set_passcode(page, offline_site)
    one.close()
    one = chromium.browser_type.launch_persistent_context(tmp_path / "profile", **options)
    one.set_offline(True)
    page = one.new_page()
    page.goto(f"{offline_site.address}/day/")
    expect(page.get_by_role("heading", name="Locked")).to_be_visible()
    page.get_by_label("Passcode").fill("four words at hand")
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_role("alert")).to_contain_text("9 more wrong tries", timeout=LONG)
    page.get_by_label("Passcode").fill(PASSCODE)
    page.get_by_role("button", name="Open").click()
    expect(page.locator(".day-line").first).to_be_attached(timeout=LONG)
    unfold(page)
    expect(page.get_by_role("link", name="Ola Tarn D0")).to_be_visible(timeout=LONG)
    expect(page.get_by_text(SUPPORT).first).to_be_attached()
    # The key lives as long as a page does: another page needs no passcode.
    page.reload()
    unfold(page)
    expect(page.get_by_role("link", name="Ola Tarn D0")).to_be_visible(timeout=LONG)
    one.close()


def test_wrong_tries_are_slowed_and_end(phone: BrowserContext, offline_site: Site) -> None:
    """Two cost nothing, then seconds that double; the tenth takes what is kept along, and no entry of the queue."""
    page = phone.pages[0]
    set_passcode(page, offline_site)
    found = page.evaluate("""async () => {
        await phoneStore.queue.add({ key: "tap" });
        // One round, so that ten tries are quick: a wrong passcode is wrong however often it was turned.
        const kept = await phoneStore.about.get("phone-passcode");
        await phoneStore.about.put("phone-passcode", { ...kept, rounds: 1 });
        const tried = [];
        for (let number = 1; number <= 10; number += 1) {
            const error = await phonePasscode.unlock("wrong").catch((one) => one);
            tried.push([error.name, error.seconds ?? 0]);
            if (!error.seconds) continue;
            tried.push([(await phonePasscode.unlock("wrong").catch((one) => one)).name]);
            const later = Date.now() + (error.seconds + 1) * 1000;
            Date.now = () => later;
        }
        return { tried, pages: (await phoneStore.page.list()).length, queue: await phoneStore.queue.count() };
    }""")
    waited = [(["Wrong", seconds], ["Wait"]) for seconds in (5, 10, 20, 40, 80, 160, 320)]
    assert found["tried"] == [["Wrong", 0], ["Wrong", 0], *(one for both in waited for one in both), ["Gone", 0]]
    assert (found["pages"], found["queue"]) == (0, 1)


def test_signing_out_leaves_nothing_and_another_person_sees_nothing(
    phone: BrowserContext, offline_site: Site
) -> None:
    """The store is empty before the next one signs in, and without signal nothing of the first is shown."""
    page = phone.pages[0]
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert page.evaluate("phoneStore.page.list()") == []
    assert page.evaluate("phoneStore.about.get('phone-list')") is None
    sign_in(page, offline_site, OTHER)
    page.goto(f"{offline_site.address}/calendar/")
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    expect(page.get_by_text("O.T.")).to_have_count(0)


def test_signing_out_says_first_what_is_not_sent(phone: BrowserContext, offline_site: Site) -> None:
    """Who says no is still signed in; who says yes finds it again on the next sign-in."""
    page = phone.pages[0]
    page.evaluate("phoneStore.queue.add({ key: 'tap' })")
    page.get_by_role("button", name="Menu").click()
    for yes in (False, True):
        with page.expect_event("dialog") as asked:
            page.get_by_role("button", name="Sign out").click()
        assert asked.value.message.startswith("1 not sent yet.")
        (asked.value.accept if yes else asked.value.dismiss)()
    page.wait_for_url("**/sign-in/**")
    sign_in(page, offline_site, DRIVER)
    page.evaluate("phonePage.started")
    assert page.evaluate("phoneStore.queue.list().then((all) => all.map((one) => one.key))") == ["tap"]


def test_what_was_sent_is_kept_anew(phone: BrowserContext, offline_site: Site) -> None:
    """A log a minute ago stands on the kept sheet, though the pages were fresh."""
    page = phone.pages[0]
    before = page.evaluate("phoneStore.about.get('phone-kept')")["at"]
    page.goto(f"{offline_site.address}/log/")
    page.get_by_role("button", name="As planned").first.click()
    expect(page.get_by_role("button", name="Undo logging").first).to_be_visible(timeout=LONG)
    page.wait_for_load_state("load")
    page.evaluate(
        """(before) => new Promise((done) => {
        const is = async () => (await phoneStore.about.get("phone-kept")).at > before;
        const look = async () => ((await is()) ? done() : setTimeout(look, 100));
        look();
    })""",
        before,
    )
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    unfold(page)
    expect(page.get_by_role("link", name="See the log").first).to_be_visible()


def test_an_ended_sign_in_keeps_the_day_and_a_stopped_account_loses_it(
    chromium: Browser, offline_site: Site
) -> None:
    """The first is asked to sign in again, with signal; the second is wiped at its next contact, queue and all."""
    phone = chromium.new_context(**HELD)
    page = phone.new_page()
    sign_in(page, offline_site, LEAVER)
    page.goto(f"{offline_site.address}/day/")
    wait_until_kept(page)
    page.evaluate("phoneStore.queue.add({ key: 'tap' })")
    phone.clear_cookies()
    page.goto(f"{offline_site.address}/day/")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    page.evaluate("phonePage.started")
    assert page.evaluate("phoneStore.page.list().then((all) => all.length)") == 1
    stop = f"from accounts.models import Person; Person.objects.filter(username='{LEAVER}').update(is_active=False)"
    offline_site.manage("shell", "-c", stop)
    page.goto(f"{offline_site.address}/day/")
    page.evaluate("phonePage.started")
    assert page.evaluate("phoneStore.page.list()") == []
    assert page.evaluate("phoneStore.open().then((one) => one.count('queue'))") == 0
    phone.close()


def test_a_kept_page_says_when_signal_is_back(phone: BrowserContext, offline_site: Site) -> None:
    """And the same address shows what stands now."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    expect(page.get_by_text("No signal: this is what the phone kept")).to_be_visible()
    phone.set_offline(False)
    expect(page.get_by_text("Load the page again to see what stands now")).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.get_by_text("As of")).to_have_count(0)


def test_a_kept_page_of_an_earlier_version_has_the_files_of_now(phone: BrowserContext, offline_site: Site) -> None:
    """A deploy in the middle of the day: its style sheet has another address, and no signal to ask for it."""
    page = phone.pages[0]
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    same = """async () => {
        const [now, earlier] = await Promise.all([
            fetch(document.querySelector('link[rel="stylesheet"]').href), fetch("/static/site.css?v=000000000000"),
        ]);
        return earlier.ok && (await now.text()) === (await earlier.text());
    }"""
    assert page.evaluate(same)


def test_a_substitute_has_the_covered_day_whichever_way_its_pages_are_reached(
    chromium: Browser, offline_site: Site
) -> None:
    """The sheet links to pages without saying whose they are, they back to it with the teacher's number."""
    phone = chromium.new_context(**HELD)
    page = phone.new_page()
    sign_in(page, offline_site, COVER)
    page.goto(f"{offline_site.address}/day/")
    wait_until_kept(page)
    phone.set_offline(True)
    page.goto(f"{offline_site.address}/day/")
    unfold(page)
    expect(page.get_by_role("link", name="O.T. D0")).to_be_visible()
    unfold(page)
    page.get_by_role("link", name="Run it").last.click()
    page.wait_for_url("**/run/**")
    expect(page.get_by_text("As of")).to_be_visible()
    day = page.evaluate("[...document.links].map((one) => one.href).find((one) => one.includes('teacher='))")
    page.goto(day)
    expect(page.get_by_text("As of")).to_be_visible()
    page.goto(f"{day.split('?')[0]}?teacher=999")
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    phone.close()
