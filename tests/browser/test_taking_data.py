"""Data with one thumb on a phone: trial by trial, without a signal, taken back; the chart and its table."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.conftest import PHONE, Site, sign_in
from tests.browser.test_accessibility import LOOKS, faults

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def goals(site: Site) -> tuple[Site, list[str]]:
    """The server with goals, and the ids of two students, a goal with data, and one that can't be read."""
    told = site.manage("shell", "-c", "from tests.browser.goals import make_goals; make_goals()")
    return site, told.split()[-4:]


@pytest.fixture
def phone(chromium: Browser, goals: tuple[Site, list[str]]) -> Iterator[BrowserContext]:
    """The teacher's, signed in."""
    context = chromium.new_context(viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, goals[0], "teacher")
    page.close()
    yield context
    context.close()


def opened(phone: BrowserContext, goals: tuple[Site, list[str]]) -> Page:
    """Both students side by side."""
    site, (first, second, *_) = goals
    page = phone.new_page()
    page.goto(f"{site.address}/data/take/?student={first}&student={second}")
    return page


def goal(page: Page, text: str) -> Locator:
    """The first student's goal."""
    return page.locator(".take-goal").filter(has_text=text).first


def test_a_set_of_trials_is_a_tap_each_and_saved_when_it_is_full(
    phone: BrowserContext, goals: tuple[Site, list[str]]
) -> None:
    """A wrong tap is undone; what was saved is taken back in one."""
    page = opened(phone, goals)
    catch = goal(page, "catch a bounced ball")
    for name in ("Yes", "Yes", "No", "No"):
        catch.get_by_role("button", name=name).click()
    catch.get_by_role("button", name="Undo").click()
    expect(catch.locator(".take-marks")).to_have_text("✓ ✓ ✗")
    for _ in range(2):
        catch.get_by_role("button", name="Yes").click()
    expect(catch.locator(".take-today li").first).to_contain_text("4 of 5 saved")
    page.reload()
    catch = goal(page, "catch a bounced ball")
    expect(catch.locator(".take-today li").first).to_contain_text("4 of 5 trials")
    catch.get_by_role("button", name=re.compile("^Take back")).first.click()
    expect(page.get_by_text("Taken back. It is kept below")).to_be_visible()
    page.close()


def test_without_a_signal_data_wait_on_the_phone(phone: BrowserContext, goals: tuple[Site, list[str]]) -> None:
    """Also over a reload; sent once there is a signal, each once."""
    page = opened(phone, goals)
    phone.set_offline(True)
    laps = goal(page, "walk 5 laps")
    for _ in range(3):
        laps.get_by_role("button", name="+1").click()
    laps.get_by_role("button", name=re.compile("^Save")).click()
    roll = goal(page, "roll a ball")
    roll.get_by_role("button", name="Gesture").click()
    expect(page.locator("#unsent")).to_have_text("2 not sent yet")
    expect(roll.locator(".take-today li").first).to_contain_text("not sent yet")
    phone.set_offline(False)
    expect(laps.locator(".take-today li").first).to_contain_text("3 saved")
    expect(roll.locator(".take-today li").first).to_contain_text("saved")
    expect(page.locator("#unsent")).to_be_hidden()
    page.reload()
    expect(goal(page, "walk 5 laps").locator(".take-today li")).to_have_count(1)
    page.close()


def test_every_target_is_large_enough_and_within_the_page(
    phone: BrowserContext, goals: tuple[Site, list[str]]
) -> None:
    """At 390 pixels; WCAG 2.2, success criterion 2.5.5 (AAA): at least 44 by 44 CSS pixels."""
    page = opened(phone, goals)
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    boxes = page.locator(".taking button:visible, .taking input:visible").evaluate_all(
        "all => all.map(a => [a.textContent || a.name, a.offsetWidth, a.offsetHeight])"
    )
    assert len(boxes) > 15
    assert [one for one in boxes if one[1] < 44 or one[2] < 44] == []
    assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    page.close()


def test_the_chart_is_read_from_the_table_beside_it(phone: BrowserContext, goals: tuple[Site, list[str]]) -> None:
    """Its name says what it shows and that a table follows; the table has a row for each point."""
    site, ids = goals
    page = phone.new_page()
    page.goto(f"{site.address}/goals/{ids[2]}/")
    chart = re.compile(r"Chart of 8 data points.*the table below has each")
    expect(page.get_by_role("img", name=chart)).to_be_visible()
    expect(page.get_by_role("table").get_by_role("row")).to_have_count(8 + 1)
    page.close()


def test_pages_of_goals_have_no_violations(phone: BrowserContext, goals: tuple[Site, list[str]]) -> None:
    """A list, a goal with its chart, one that can't be read, taking data, adding one, the rules: in every look."""
    site, (first, second, with_data, unread) = goals
    take = f"/data/take/?student={first}&student={second}"
    paths = [f"/students/{first}/goals/", f"/goals/{with_data}/", f"/goals/{unread}/", take]
    paths += [f"/students/{first}/goals/new/", f"/goals/{with_data}/change/", "/goals/rules/"]
    page = phone.new_page()
    found = []
    for size, scheme in LOOKS:
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        for path in paths:
            page.goto(site.address + path)
            found.extend(faults(page))
            if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                found.append(f"{path} scrolls sideways at {size['width']} pixels")
    page.close()
    assert sorted(set(found)) == []
