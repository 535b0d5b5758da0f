"""A day's pages within reach: large enough for a thumb, dark enough for the sun, in order for a keyboard."""

from itertools import pairwise
from urllib.parse import quote

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, Site
from tests.browser.in_hand.conftest import Made, open_today
from tests.browser.in_hand.hand_day import RUNNING
from tests.browser.in_hand.measures import IN_SENTENCES, PALE, TARGETS
from tests.browser.test_accessibility import LOOKS, faults

pytestmark = pytest.mark.browser
CONTRAST = "7.0"
"""To one: WCAG 2.2, success criterion 1.4.6 Contrast (Enhanced), for words that are read in the sun."""


def pages_of_the_day(hand: Made) -> list[str]:
    """What is opened and tapped from morning to evening."""
    uid, date = hand["sessions"][RUNNING], hand["date"]
    return [
        "/day/",
        "/log/",
        f"/log/session/?uid={uid}",
        f"/class-hour/{date}/{uid}/run/",
        f"/class-hour/{date}/{uid}/",
        f"/data/take/?session={uid}",
        "/happened/",
        "/happened/new/?kind=late",
        f"/load/{date}/",
        "/unsent/",
        "/phone/",
        "/week/",
        "/mileage/",
    ]


def test_every_target_of_the_day_can_be_hit(phone: Page, hand_site: Site, hand: Made) -> None:
    """44 pixels each way on every page of the day, with all that is folded open, and the menu."""
    found = []
    for path in pages_of_the_day(hand):
        answer = phone.goto(hand_site.address + path)
        assert answer is not None
        assert answer.status == 200, path
        phone.evaluate("for (const one of document.querySelectorAll('main details')) one.open = true")
        found += [f"{path}: {one}" for one in phone.evaluate(TARGETS)]
        found += [f"{path}: alone in its line: {one}" for one in phone.evaluate(IN_SENTENCES)]
    phone.get_by_role("button", name="Menu").tap()
    found += [f"menu: {one}" for one in phone.evaluate(TARGETS)]
    assert found == []


def test_the_check_of_targets_and_contrast_can_fail(phone: Page) -> None:
    """A small button, a link of its own that is small, words too pale."""
    page = (
        "<body style='background:#fff'><main><button style='height:20px; color:#000'>Small</button>"
        "<p><a href='/' style='color:#000'>Alone</a></p><p>In <a href='/' style='color:#000'>words</a></p>"
        "<p style='color:#777'>Pale</p></main></body>"
    )
    phone.goto(f"data:text/html,<!doctype html>{quote(page)}")
    assert [one.split(":")[0] for one in phone.evaluate(TARGETS)] == ["Small"]
    assert phone.evaluate(IN_SENTENCES) == ["Alone"]
    # 4.48: #777777 on white, as WCAG 2.2's formula gives it (well known as just below 4.5).
    assert [one.split(": ")[1] for one in phone.evaluate(PALE.replace("LEAST", "7.0")) if "Pale" in one] == [
        "4.48 Pale"
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_day_is_readable_in_the_sun_and_in_the_dark(
    phone: Page, hand_site: Site, hand: Made, scheme: str
) -> None:
    phone.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    found = []
    for path in pages_of_the_day(hand):
        phone.goto(hand_site.address + path)
        phone.evaluate("for (const one of document.querySelectorAll('main details')) one.open = true")
        found += [f"{path}: {one}" for one in phone.evaluate(PALE.replace("LEAST", CONTRAST))]
    assert found == []


def test_the_menu_begins_with_the_day_and_fits(phone: Page, hand_site: Site) -> None:
    """Today, the log, what happened; all of it on one screen, without scrolling either way."""
    open_today(phone, hand_site)
    phone.get_by_role("button", name="Menu").tap()
    menu = phone.locator("#menu")
    links = menu.get_by_role("navigation").first.get_by_role("link")
    assert links.all_inner_texts()[:4] == ["Today", "Log", "Something happened", "Week"]
    assert menu.evaluate("(one) => [one.scrollHeight <= one.clientHeight, one.scrollWidth <= one.clientWidth]") == [
        True,
        True,
    ]
    box = menu.bounding_box()
    assert box is not None
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= PHONE["height"]
    expect(menu.get_by_role("button", name="Sign out")).to_be_in_viewport()
    menu.get_by_role("link", name="Log", exact=True).tap()
    phone.wait_for_url("**/log/")


def test_the_hand_s_pages_have_no_violations(phone: Page, hand_site: Site, hand: Made) -> None:
    """With a message, the bar at the thumb and the fold open, in every look."""
    found = []
    uid, date = hand["sessions"][RUNNING], hand["date"]
    for path in ("/day/", f"/class-hour/{date}/{uid}/run/", "/log/"):
        phone.goto(hand_site.address + path)
        phone.evaluate("phoneQueue.ready")
        phone.evaluate("for (const one of document.querySelectorAll('.earlier')) one.open = true")
        phone.evaluate("phoneToast.show('Saved. A session.', () => {})")
        for size, scheme in LOOKS:
            phone.set_viewport_size(size)  # type: ignore[arg-type]
            phone.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found += faults(phone)
            assert not phone.evaluate("document.documentElement.scrollWidth > window.innerWidth")
    assert found == []


def test_the_keyboard_goes_down_the_page_and_nothing_hides_what_has_the_focus(phone: Page, hand_site: Site) -> None:
    """In the order of the page (WCAG 2.4.3), each whole stop above the bars at the lower edge (2.4.12)."""
    open_today(phone, hand_site)
    phone.evaluate("window.scrollTo(0, 0)")
    tops: list[float] = []
    hidden = []
    for _ in range(40):
        phone.keyboard.press("Tab")
        told = phone.evaluate(
            """() => { const one = document.activeElement, box = one.getBoundingClientRect();
            const bars = document.querySelector(".now-bar").getBoundingClientRect().top;
            const words = one.innerText || one.name;
            return [Boolean(one.closest("main")), box.top + scrollY, box.bottom <= bars + 1, words]; }"""
        )
        if not told[0]:
            continue
        tops.append(told[1])
        if not told[2]:
            hidden.append(told[3])
    assert len(tops) > 15
    assert hidden == []
    # A row's marks stand beside each other: a little up is the same row.
    assert all(after >= before - 60 for before, after in pairwise(tops))
