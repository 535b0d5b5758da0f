"""A teacher's day on a phone without a signal: all that was tapped reaches the server once, in order, with the
times at which it was tapped, though the browser is killed in the middle; and two who log the same session."""

import datetime as dt
import json
import os
import re
import signal
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.conftest import PHONE, Site, chromium_path, sign_in, unfold
from tests.browser.phone_day import DESK, TEACHER
from tests.browser.test_accessibility import LOOKS, faults

pytestmark = [pytest.mark.browser, pytest.mark.long]
START, HERE, PLANNED = (re.compile(text) for text in ("^Start driving", "^I.m here", "^As planned"))


@pytest.fixture(scope="module")
def day(site: Site) -> tuple[Site, list[str]]:
    """The server with the day, and the ids of its six students."""
    told = site.manage("shell", "-c", "from tests.browser.phone_day import make_phone_day; make_phone_day()")
    return site, told.split()[-6:]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Where the phone's browser keeps what is its own."""
    return tmp_path / "phone"


def phone_of(chromium: Browser, home: Path) -> BrowserContext:
    """The teacher's phone, as it was when it was last closed."""
    return chromium.browser_type.launch_persistent_context(
        home,
        executable_path=chromium_path(),
        viewport=PHONE,  # type: ignore[arg-type]
        has_touch=True,
        args=["--no-sandbox", "--disable-gpu"],
    )


@pytest.fixture
def desk(chromium: Browser, day: tuple[Site, list[str]]) -> Iterator[Page]:
    """The coordinator's browser."""
    context = chromium.new_context()
    page = context.new_page()
    sign_in(page, day[0], DESK)
    yield page
    context.close()


def kill(phone: BrowserContext, home: Path) -> None:
    """End the phone's browser as a system without memory does: at once, with nothing put away."""
    mine = f"--user-data-dir={home}".encode()
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(FileNotFoundError, ProcessLookupError):
            words = (process / "cmdline").read_bytes().split(b"\0")
            if mine in words and not any(word.startswith(b"--type=") for word in words):
                with phone.expect_event("close"):
                    os.kill(int(process.name), signal.SIGKILL)
                return
    pytest.fail("no browser to kill")


def opened(phone: BrowserContext, site: Site, path: str) -> Page:
    """A page whose queue has begun."""
    page = phone.new_page()
    page.goto(site.address + path)
    page.evaluate("phoneQueue.ready")
    unfold(page)
    return page


def waits(page: Page, count: int) -> None:
    """What the page says of the queue."""
    expect(page.locator("#unsent")).to_have_text(f"{count} not sent yet")


def stored(site: Site) -> dict[str, Any]:
    """What the server has of the day, in the order in which it came."""
    told = site.manage("shell", "-c", "from tests.browser.phone_day import told; told()")
    found: dict[str, Any] = json.loads(told.splitlines()[-1])
    return found


def take(page: Page, goal: Locator, laps: int) -> None:
    """One data point of a goal."""
    goal.locator("[name=value]").fill(str(laps))
    goal.get_by_role("button", name=re.compile("^Save")).click()
    expect(goal.locator(".take-today li").first).to_contain_text("not sent yet")


def drive(sheet: Page, numbers: range) -> None:
    """Leave and arrive."""
    for number in numbers:
        line = sheet.locator(".day-line.drive").nth(number)
        line.get_by_role("button", name=START).click()
        line.get_by_role("button", name=HERE).click()
        expect(line.get_by_text("Not sent yet")).to_have_count(2)


def log_as_planned(log: Page, numbers: range) -> None:
    """One tap a session."""
    for number in numbers:
        card = log.locator(".log-session").nth(number)
        card.get_by_role("button", name=PLANNED).click()
        expect(card).to_contain_text("Not sent yet")


def times(rows: list[Any]) -> list[dt.datetime]:
    """Those that were told, in order."""
    return [dt.datetime.fromisoformat(text) for row in rows for text in row["times"]]


def the_morning(phone: BrowserContext, site: Site, students: list[str]) -> str:
    """Two drives, three sessions, twelve data points, and being away on a later day; returns that."""
    sheet, log = opened(phone, site, "/day/"), opened(phone, site, "/log/")
    data = opened(phone, site, "/data/take/?" + "&".join(f"student={one}" for one in students))
    away = opened(phone, site, "/happened/new/?kind=away")
    phone.set_offline(True)
    drive(sheet, range(2))
    waits(sheet, 4)
    goals = data.locator(".take-goal")
    expect(goals).to_have_count(12)
    for number in range(12):
        take(data, goals.nth(number), number + 1)
    log.locator(".log-session").first.locator("[name=absent]").check()
    log_as_planned(log, range(3))
    later = (dt.datetime.now(dt.UTC) + dt.timedelta(days=2)).date().isoformat()
    away.get_by_label("First day").fill(later)
    away.get_by_role("button", name="See what it does").click()
    expect(away.get_by_text("Kept on this phone")).to_be_visible()
    waits(away, 20)
    return later


def test_a_full_day_without_a_signal(chromium: Browser, day: tuple[Site, list[str]], home: Path) -> None:
    """Six sessions, one of them missed by an absence, twelve data points, four drives, and being away later."""
    site, students = day
    phone = phone_of(chromium, home)
    sign_in(phone.new_page(), site, TEACHER)
    phone.close()  # signed in the evening before
    phone = phone_of(chromium, home)
    began = dt.datetime.now(dt.UTC)
    later = the_morning(phone, site, students)
    middle = dt.datetime.now(dt.UTC)
    kill(phone, home)  # what waits is on its disk
    phone = phone_of(chromium, home)
    phone.route(re.compile("/api/1/"), lambda route: route.abort())
    sheet, log = opened(phone, site, "/day/"), opened(phone, site, "/log/")
    waits(sheet, 20)
    phone.set_offline(True)
    drive(sheet, range(2, 4))
    log_as_planned(log, range(3, 6))
    waits(log, 27)
    phone.unroute_all()
    phone.set_offline(False)
    expect(log.locator("#unsent")).to_be_hidden(timeout=60_000)
    phone.close()
    found = stored(site)
    assert [(one["delivered"], one["reason"]) for one in found["log"]] == [(0, "student_absent"), *[(30, None)] * 5]
    assert [float(one["value"]) for one in found["data"]] == [*range(1, 13)]
    assert [one["ends"] for one in found["drives"]] == ["Near Far", "Far Mid", "Mid Near", "Near Far"]
    assert [one["planned"] for one in found["drives"]] == ["0905", "1100", "1220", "1340"]
    assert found["away"] == [later]
    slack = dt.timedelta(seconds=3)  # the Date header counts whole seconds
    first = times([*found["drives"][:2], *found["log"][:3], *found["data"]])
    assert began - slack <= min(first)
    assert max(first) <= middle + slack
    assert min(times(found["drives"][2:])) >= middle - slack
    assert times(found["drives"]) == sorted(times(found["drives"]))


def test_somebody_logged_it_meanwhile_and_a_person_chooses(
    chromium: Browser, day: tuple[Site, list[str]], home: Path, desk: Page
) -> None:
    """What stands and what was tapped side by side; what was tapped becomes the next version: nothing is lost."""
    site, _ = day
    site.manage("shell", "-c", "from tests.browser.phone_day import another_session; another_session()")
    phone = phone_of(chromium, home)
    page = phone.new_page()
    sign_in(page, site, TEACHER)
    log, unsent = opened(phone, site, "/log/"), opened(phone, site, "/unsent/")
    phone.set_offline(True)
    card = log.locator(".log-session").filter(has_text="3:30")
    card.locator("[name=absent]").check()
    card.get_by_role("button", name=PLANNED).click()
    row = unsent.locator(".unsent-rows > li")
    expect(row).to_contain_text("0 present, 1 absent")
    expect(row).to_contain_text("not sent yet")
    desk.goto(f"{site.address}/log/")
    desk.locator(".log-session").filter(has_text="3:30").get_by_role("button", name=PLANNED).click()
    expect(desk.get_by_text("Saved.")).to_be_visible()
    phone.set_offline(False)
    expect(row).to_contain_text("This session is logged already")
    expect(row.get_by_role("row").nth(1)).to_contain_text("30 of 30 minutes")
    for size, scheme in LOOKS:
        unsent.set_viewport_size(size)  # type: ignore[arg-type]
        unsent.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        assert faults(unsent) == []
        assert not unsent.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    row.get_by_role("button", name=re.compile("^Mine is right")).click()
    expect(unsent.get_by_text("Everything is sent.")).to_be_visible()
    versions = stored(site)["log"][-1]["versions"]
    assert versions == [[30, "phonedesk"], [0, "phoneteacher"]]
    phone.close()
