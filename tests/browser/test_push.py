"""Messages on a phone: turned on by a tap, shown by the worker, opening the day; turned off again.

Chromium's worker and notifications are the real ones. Its push service is its maker's and not to be had here, so
the subscription is one that a test wrote, and what comes is handed to the worker by the browser's own tool.
"""

import json
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, Site, sign_in

pytestmark = pytest.mark.browser
# Point and secret of RFC 8291's example, section 5.
SUBSCRIBED = """
    const bytes = (text) =>
      Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (one) => one.charCodeAt(0)).buffer;
    const keys = {
      p256dh: "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
      auth: "BTBZMqHH6r4Tts7J_aSIgg",
    };
    const subscription = (key) => ({
      endpoint: "https://push.example/one",
      options: { applicationServerKey: bytes(key) },
      getKey: (name) => bytes(keys[name]),
      unsubscribe: async () => { localStorage.removeItem("subscribed"); return true; },
    });
    PushManager.prototype.subscribe = async (asked) => {
      localStorage.setItem("subscribed", asked.applicationServerKey);
      return subscription(asked.applicationServerKey);
    };
    PushManager.prototype.getSubscription = async () => {
      const key = localStorage.getItem("subscribed");
      return key ? subscription(key) : null;
    };
"""
SHOWN = """async () => {
    const worker = await navigator.serviceWorker.ready;
    return (await worker.getNotifications()).map((one) => [one.title, one.body, one.data.page]);
}"""


def deliver(page: Page, site: Site, *told: dict[str, str]) -> None:
    """Hand messages to the site's worker, as Chromium does when its push service has some."""
    tool = page.context.new_cdp_session(page)
    known: list[dict[str, Any]] = []
    tool.on("ServiceWorker.workerRegistrationUpdated", lambda event: known.extend(event["registrations"]))
    tool.send("ServiceWorker.enable")
    while not known:
        page.wait_for_timeout(50)
    for one in told:
        given = {"registrationId": known[-1]["registrationId"], "data": json.dumps(one)}
        tool.send("ServiceWorker.deliverPushMessage", {"origin": site.address, **given})


def shown(page: Page, *titles: str) -> list[list[str]]:
    """Title, text and page of the notifications, once they have these titles.

    Chromium leaves one out of its list for a moment while it shows it; so what is returned is what was waited for.
    """
    wanted = sorted(titles)
    for _attempt in range(600):
        found: list[list[str]] = sorted(page.evaluate(SHOWN))
        if [one[0] for one in found] == wanted:
            return found
        page.wait_for_timeout(50)
    raise AssertionError(f"{wanted} weren't shown within 30 seconds: {found}")


def test_a_phone_is_turned_on_shows_messages_and_is_turned_off(chromium: Browser, site: Site) -> None:
    """A message of the same tag replaces the one before, and none opens a page of somebody else's."""
    context = chromium.new_context(viewport=PHONE)  # type: ignore[arg-type]
    context.grant_permissions(["notifications"], origin=site.address)
    context.add_init_script(SUBSCRIBED)
    page = context.new_page()
    try:
        sign_in(page, site, "teacher")
        page.goto(f"{site.address}/told/")
        page.get_by_label("What you call this device").fill("Pocket")
        page.get_by_role("button", name="Turn on here").click()
        expect(page.get_by_text("This one")).to_be_visible()
        expect(page.get_by_role("button", name="Turn on here")).to_be_hidden()
        day = {"title": "Today: 1 change", "body": "9:20: not held.", "path": "/day/2026-09-14/", "tag": "a"}
        # One by one: the worker answers several at once, in no order.
        deliver(page, site, day)
        assert shown(page, day["title"])
        deliver(page, site, {**day, "title": "Today: 2 changes"})
        assert shown(page, "Today: 2 changes")
        deliver(page, site, {"title": "x", "path": "//elsewhere.example/"})
        assert shown(page, "Today: 2 changes", "x") == [
            ["Today: 2 changes", "9:20: not held.", f"{site.address}/day/2026-09-14/"],
            ["x", "", f"{site.address}/"],
        ]
        page.get_by_role("button", name="Turn off").click()
        expect(page.get_by_role("button", name="Turn on again")).to_be_visible()
        expect(page.get_by_role("button", name="Turn on here")).to_be_visible()
        page.get_by_role("button", name="Remove").click()
        expect(page.get_by_text("No device yet.")).to_be_visible()
    finally:
        context.close()
