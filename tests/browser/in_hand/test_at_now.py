"""A day in the hand: today opens at now, one tap logs, another undoes."""

import re

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, sign_in
from tests.browser.in_hand.conftest import LONG, Made, card, open_today, phone_in
from tests.browser.in_hand.hand_day import JUST_OVER, RUNNING, TO_COME
from tests.browser.test_offline import wait_until_kept

pytestmark = pytest.mark.browser
TAP = 44
"""CSS pixels: WCAG 2.2, success criterion 2.5.5 Target Size (Enhanced)."""


def planned(where: Page | Locator) -> Locator:
    """The button of one tap."""
    return where.get_by_role("button", name=re.compile("^As planned"))


# ---- at now ------------------------------------------------------------------------------------------------


def test_today_opens_at_now_on_a_phone(phone: Page, hand_site: Site, hand: Made) -> None:
    """The mark at the top, below it the class that runs; what is over is one tap away; nothing scrolls aside."""
    open_today(phone, hand_site)
    mark = phone.locator(".day-now")
    expect(mark).to_be_in_viewport()
    expect(phone.get_by_role("heading", level=1)).not_to_be_in_viewport()
    expect(card(phone, hand, RUNNING)).to_be_in_viewport()
    expect(card(phone, hand, JUST_OVER)).to_be_hidden()
    expect(phone.locator(".day-now + .day-line")).to_have_id(f"s-{hand['sessions'][RUNNING]}")
    phone.get_by_text("Earlier today: 4").tap()
    expect(card(phone, hand, JUST_OVER)).to_be_visible()
    assert not phone.evaluate("document.documentElement.scrollWidth > window.innerWidth")


def test_the_whole_day_stands_on_a_desk_and_on_paper(chromium: Browser, hand_site: Site, hand: Made) -> None:
    """Without a tap, at its beginning; and printed from the phone."""
    context = chromium.new_context(viewport=DESK, timezone_id=hand["zone"])  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, hand_site, hand["username"])
    open_today(page, hand_site)
    expect(page.get_by_role("heading", level=1)).to_be_in_viewport()
    expect(page.locator(".day-line:visible")).to_have_count(7)
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    expect(page.locator(".day-line:visible")).to_have_count(3)
    page.emulate_media(media="print")
    expect(page.locator(".day-line:visible")).to_have_count(7)
    expect(page.locator(".day-now, .thumb-nav, .now-bar").locator("visible=true")).to_have_count(0)
    context.close()


def test_without_scripts_the_server_s_time_folds_the_day(chromium: Browser, hand_site: Site, hand: Made) -> None:
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, hand_site, hand["username"])
    page.goto(f"{hand_site.address}/day/")
    expect(page.locator(".day-now + .day-line")).to_have_id(f"s-{hand['sessions'][RUNNING]}")
    expect(card(page, hand, JUST_OVER)).to_be_hidden()
    page.get_by_text("Earlier today: 4").click()
    expect(card(page, hand, JUST_OVER)).to_be_visible()
    context.close()


def test_a_kept_page_goes_by_the_phone_s_clock(phone: Page, hand_site: Site, hand: Made) -> None:
    """An hour and a half later without signal: the last session runs, and what was to come can be logged."""
    phone.goto(f"{hand_site.address}/phone/")
    phone.evaluate("phonePage.started")
    phone.evaluate("phoneStore.about.put('phone-keeping', true)")
    phone.evaluate("phonePage.keep(true)")
    wait_until_kept(phone)
    open_today(phone, hand_site)
    expect(card(phone, hand, TO_COME).get_by_role("button", name=re.compile("^As planned"))).to_be_hidden()
    phone.context.set_offline(True)
    offset = phone.evaluate("phoneStore.clockOffset()")
    now = phone.evaluate("Date.now()")
    phone.clock.set_fixed_time((now + 80 * 60_000) / 1000)
    phone.goto(f"{hand_site.address}/day/")
    expect(phone.locator(".day-now")).to_contain_text("page from")
    assert abs(phone.evaluate("phoneStore.clockOffset()") - offset) < 1000
    expect(phone.locator(".day-now + .day-line")).to_have_id(f"s-{hand['sessions'][TO_COME]}")
    expect(planned(card(phone, hand, TO_COME))).to_be_visible()
    expect(phone.get_by_text("Earlier today: 6")).to_be_visible()


def test_the_months_open_at_today_on_a_phone(phone: Page, hand_site: Site, hand: Made) -> None:
    """Trips and a feed's month, which is a list of days there; on a desk both begin at their top."""
    made = f"from tests.browser.in_hand.hand_day import make_feed; make_feed('{hand['username']}')"
    feed = hand_site.manage("shell", "-c", made).split()[-1]
    for path in ("/mileage/", f"/phone-calendar/{feed}/month/"):
        phone.set_viewport_size(PHONE)  # type: ignore[arg-type]
        phone.goto(hand_site.address + path)
        expect(phone.locator("#today")).to_be_in_viewport()
        expect(phone.locator("#today")).to_contain_text("Today")
        assert not phone.evaluate("document.documentElement.scrollWidth > window.innerWidth")
        phone.set_viewport_size(DESK)  # type: ignore[arg-type]
        phone.goto(hand_site.address + path)
        expect(phone.get_by_role("heading", level=1)).to_be_in_viewport()


# ---- one tap, and its undo -----------------------------------------------------------------------------------


def test_one_tap_logs_and_another_undoes_it(phone: Page, hand_site: Site, hand: Made) -> None:
    """At the thumb: it says before and after what it does; undone at once, it waits for its log again."""
    open_today(phone, hand_site)
    bar = phone.locator(".now-bar button")
    expect(bar).to_contain_text("3 present")
    box = bar.bounding_box()
    assert box is not None
    # Common practice, no source: one thumb reaches the lower half of a phone.
    assert box["y"] > PHONE["height"] / 2
    card(phone, hand, RUNNING).get_by_label("Absent: Eli Tarn").check()
    expect(bar).to_contain_text("2 present, 1 absent")
    expect(planned(card(phone, hand, RUNNING))).to_contain_text("2 present, 1 absent")
    bar.tap()
    toast = phone.locator(".toast")
    expect(toast).to_contain_text("2 present, 1 absent", timeout=LONG)
    expect(card(phone, hand, RUNNING)).to_contain_text("0 of 30 minutes")
    phone.get_by_role("button", name="Undo", exact=True).tap()
    expect(toast).to_contain_text("Taken back", timeout=LONG)
    expect(planned(card(phone, hand, RUNNING))).to_be_visible()
    # Afterwards it can be undone at its entry, on Today and in the log.
    planned(card(phone, hand, RUNNING)).tap()
    undo = card(phone, hand, RUNNING).get_by_role("button", name=re.compile("^Undo logging"))
    expect(undo).to_be_visible(timeout=LONG)
    phone.goto(f"{hand_site.address}/log/")
    card(phone, hand, RUNNING).get_by_role("button", name=re.compile("^Undo logging")).tap()
    expect(planned(card(phone, hand, RUNNING))).to_be_visible(timeout=LONG)


def test_the_message_waits_while_it_is_looked_at(phone: Page, hand_site: Site, hand: Made) -> None:
    """Ten seconds, and no end while the keyboard is on it (WCAG 2.2.1); it is the second stop of the keyboard."""
    open_today(phone, hand_site)
    phone.clock.install()
    phone.evaluate("phoneToast.show('Saved. A session.', () => { document.title = 'undone'; })")
    toast = phone.locator(".toast")
    expect(phone.get_by_role("status").filter(has=toast)).to_have_count(1)
    phone.clock.run_for(9_000)
    expect(toast).to_be_visible()
    phone.clock.run_for(2_000)
    expect(toast).to_have_count(0)
    phone.evaluate("phoneToast.show('Saved. A session.', () => { document.title = 'undone'; })")
    phone.evaluate("document.activeElement.blur()")
    phone.keyboard.press("Tab")
    phone.keyboard.press("Tab")
    expect(toast.get_by_role("button", name="Undo", exact=True)).to_be_focused()
    phone.clock.run_for(60_000)
    expect(toast).to_be_visible()
    for button in toast.get_by_role("button").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= TAP
    phone.keyboard.press("Enter")
    expect(toast).to_have_count(0)
    assert phone.title() == "undone"
    phone.evaluate("phoneToast.show('Saved. A session.')")
    phone.keyboard.press("Escape")
    expect(toast).to_have_count(0)


def test_a_drive_without_signal_is_undone_before_it_is_sent(phone: Page, hand_site: Site, hand: Made) -> None:
    open_today(phone, hand_site)
    line = phone.locator(".day-line.drive").last
    phone.context.set_offline(True)
    line.get_by_role("button", name=re.compile("^Start driving")).tap()
    expect(phone.locator("#unsent")).to_have_text("1 not sent yet", timeout=LONG)
    expect(phone.locator(".toast")).to_contain_text("Left for Near Fell School")
    phone.get_by_role("button", name="Undo", exact=True).tap()
    expect(phone.locator(".toast")).to_contain_text("Taken back")
    expect(line.get_by_role("button", name=re.compile("^Start driving"))).to_be_visible()
    # It was tried once: its key is used up at the next contact, so that it never comes.
    phone.context.set_offline(False)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=LONG)
    open_today(phone, hand_site)
    expect(phone.get_by_text("On the way")).to_have_count(0)


# ---- the screen of the session that runs ---------------------------------------------------------------------


def test_the_session_that_runs_has_one_screen(phone: Page, hand_site: Site, hand: Made) -> None:
    """Its clock, who comes, data and the log, without signal too; an absence is one tap more."""
    open_today(phone, hand_site)
    card(phone, hand, RUNNING).get_by_role("link", name=re.compile("^Run it")).tap()
    expect(phone.locator("#run-left")).to_have_text(re.compile(r"^\d+:\d\d$"))
    bar = phone.locator(".run-taps").get_by_role("button", name=re.compile("^As planned"))
    expect(bar).to_contain_text("3 present")
    phone.get_by_label("Absent: Dot Tarn").check()
    expect(bar).to_contain_text("2 present, 1 absent")
    expect(phone.locator("summary", has_text="Take data: 3 goals")).to_be_visible()
    phone.context.set_offline(True)
    bar.tap()
    expect(phone.locator("#unsent")).to_have_text("1 not sent yet", timeout=LONG)
    expect(bar).to_be_hidden()
    expect(phone.get_by_label("Absent: Dot Tarn")).to_be_hidden()
    phone.context.set_offline(False)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=LONG)
    phone.goto(f"{hand_site.address}/day/")
    expect(card(phone, hand, RUNNING)).to_contain_text("0 of 30 minutes")


def test_what_one_phone_tapped_shows_on_the_other_at_its_next_contact(
    chromium: Browser, phone: Page, hand_site: Site, hand: Made
) -> None:
    """Two phones of one account: a log, a start and a data point; what the second taps again changes nothing."""
    context = phone_in(chromium, hand)
    other = context.new_page()
    sign_in(other, hand_site, hand["username"])
    open_today(other, hand_site)
    other.context.set_offline(True)
    open_today(phone, hand_site)
    planned(card(phone, hand, RUNNING)).tap()
    expect(card(phone, hand, RUNNING)).to_contain_text("30 minutes", timeout=LONG)
    phone.locator(".day-line.drive").last.get_by_role("button", name=re.compile("^Start driving")).tap()
    expect(phone.get_by_text("On the way")).to_be_visible(timeout=LONG)
    other.locator(".day-line.drive").last.get_by_role("button", name=re.compile("^Start driving")).tap()
    expect(other.locator("#unsent")).to_have_text("1 not sent yet", timeout=LONG)
    planned(card(other, hand, RUNNING)).tap()
    expect(other.locator("#unsent")).to_have_text("2 not sent yet", timeout=LONG)
    # Until then its refusal would be said at the form, as that of anything that is sent at once.
    expect(other.locator(".toast")).to_contain_text("3 present", timeout=LONG)
    other.context.set_offline(False)
    # The start is the same drive; the log stands beside what stands now, for a person to choose.
    expect(other.locator("#unsent")).to_have_text("1 refused: look", timeout=LONG)
    open_today(other, hand_site)
    expect(other.get_by_text("On the way")).to_have_count(1)
    expect(card(other, hand, RUNNING)).to_contain_text("30 minutes")
    context.close()


def test_the_clock_of_a_session_is_one_on_two_phones(
    chromium: Browser, phone: Page, hand_site: Site, hand: Made
) -> None:
    """What one taps without signal and what the other taps: both, in order, on both, and the same press once."""
    told = f"from tests.browser.in_hand.hand_day import make_routine; make_routine('{hand['sessions'][RUNNING]}')"
    hand_site.manage("shell", "-c", told)
    run = f"{hand_site.address}/class-hour/{hand['date']}/{hand['sessions'][RUNNING]}/run/"
    context = phone_in(chromium, hand)
    other = context.new_page()
    sign_in(other, hand_site, hand["username"])
    for page in (phone, other):
        page.goto(run)
        page.evaluate("phoneQueue.ready")
        expect(page.locator("#run-part")).to_have_text("Warm up")
    context.set_offline(True)
    phone.get_by_role("button", name="Go on now").tap()
    expect(phone.locator("#run-part")).to_have_text("Catch")
    expect(phone.locator("#unsent")).to_be_hidden(timeout=LONG)
    # The same press on the other, which knows nothing of it, is the same going on.
    other.get_by_role("button", name="Go on now").tap()
    expect(other.locator("#run-part")).to_have_text("Catch")
    other.get_by_role("button", name="1 more minute").tap()
    longer = other.locator("[data-part] .at").nth(1).inner_text()
    context.set_offline(False)
    expect(other.locator("#unsent")).to_be_hidden(timeout=LONG)
    phone.reload()
    for page in (phone, other):
        expect(page.locator("#run-part")).to_have_text("Catch", timeout=LONG)
        expect(page.locator("[data-part] .at").nth(1)).to_have_text(longer, timeout=LONG)
    # Taken back on the first: the other's minute.
    phone.get_by_role("button", name="Take the last tap back").tap()
    expect(phone.locator("[data-part] .at").nth(1)).not_to_have_text(longer)
    expect(phone.locator("#unsent")).to_be_hidden(timeout=LONG)
    other.reload()
    expect(other.locator("[data-part] .at").nth(1)).not_to_have_text(longer)
    context.close()
