"""A passkey in a real browser, with the authenticator that Chromium brings for tests (WebAuthn, section 11)."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from schedule.imports.services.demo import PASSWORD
from tests.browser.conftest import DESK, PHONE, Site
from tests.browser.test_accessibility import faults_here

pytestmark = pytest.mark.browser


@pytest.fixture
def page(chromium: Browser, site: Site) -> Iterator[Page]:
    """A browser with an authenticator in it. A passkey belongs to a name, so the site is asked by one."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasUserVerification": True, "isUserVerified": True}
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": {**options, "automaticPresenceSimulation": True}})
    yield page
    context.close()


def begin(page: Page, address: str) -> None:
    """Name and password."""
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Username").fill("substitute")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_a_passkey_is_made_asked_for_and_taken_away(page: Page, site: Site) -> None:
    """Made under How you sign in; after the password only it, or a recovery code, lets in."""
    address = site.address.replace("127.0.0.1", "localhost")
    begin(page, address)
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    found = []
    for size in (DESK, PHONE):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for path in ("own/", "own/codes/", "own/passkey/"):
            page.goto(f"{address}/sign-in/{path}")
            found += faults_here(page)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Make the passkey").click()
    expect(page.get_by_role("heading", name="Your recovery codes")).to_be_visible(timeout=60_000)
    code = page.locator("li code").first.inner_text()
    found += faults_here(page)
    page.get_by_role("link", name="I have them").click()
    expect(page.get_by_text("10 recovery codes left")).to_be_visible()

    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    for way in ("passkey", "recovery code"):
        page.goto(f"{address}/sign-in/own/")
        page.get_by_role("button", name="Menu").or_(page.locator(".menu-button")).first.click()
        page.get_by_role("button", name="Sign out").click()
        page.wait_for_url("**/sign-in/")
        begin(page, address)
        page.wait_for_url("**/sign-in/second/")
        found += faults_here(page)
        if way == "passkey":
            page.get_by_role("button", name="Use your passkey").click()
        else:
            page.get_by_label("Code").fill(code)
            page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "/sign-in/" not in url)

    page.goto(f"{address}/sign-in/own/")
    page.get_by_role("link", name="Remove This device").click()
    found += faults_here(page)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Remove").click()
    page.wait_for_url("**/sign-in/own/")
    expect(page.get_by_text("recovery codes left")).to_have_count(0)
    assert found == []
