"""The button of the district's own account in a real browser, with a real provider beside it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, empty_site, served
from tests.browser.test_accessibility import faults_here, faults_in_every_look
from tests.provider_site import ProviderSite, provider_site

pytestmark = pytest.mark.browser
MAIL = "odell@fallow.example"
GIVE_MAIL = f"from accounts.models import Person; Person.objects.filter(username='odell').update(email='{MAIL}')"


@pytest.fixture
def both(tmp_path: Path, tables: Path) -> Iterator[tuple[Site, ProviderSite]]:
    """A district with one coordinator, and the provider that has an account of theirs and of a stranger."""
    ready = empty_site(tmp_path, tables)
    ready.manage(
        "start_district", "Fallow County Schools", "--time-zone", "America/Chicago", "--coordinator", "odell"
    )
    ready.manage("shell", "-c", GIVE_MAIL)
    with provider_site(f"{ready.address}/sign-in/provider/back/") as provider:
        provider.person(email=MAIL, email_verified=True)
        provider.person("stranger", email="stranger@fallow.example", email_verified=True)
        ready.environment |= {**provider.settings(), "SITE_ADDRESS": ready.address}
        with served(ready):
            yield ready, provider


def agree(page: Page, subject: str) -> None:
    """On the provider's own page."""
    page.get_by_label("Subject").fill(subject)
    page.get_by_role("button", name="Authorize", exact=True).click()


def test_the_button_leads_there_back_and_out(chromium: Browser, both: tuple[Site, ProviderSite]) -> None:
    """A stranger's account is told whom to ask; the coordinator's opens the page that was asked for."""
    site, provider = both
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{site.address}/people/")
    found = faults_in_every_look(page)
    page.get_by_role("link", name="Sign in with your district account").click()
    page.wait_for_url(f"{provider.address}/**")
    agree(page, "stranger")
    expect(page.get_by_role("heading", name="signed in")).to_be_visible()
    found += faults_in_every_look_of_this(page)
    page.get_by_role("link", name="Sign in with a password").click()

    page.goto(f"{site.address}/people/")
    page.get_by_role("link", name="On a shared computer").click()
    page.wait_for_url(f"{provider.address}/**")
    agree(page, "account-1")
    page.wait_for_url(f"{site.address}/people/")
    expect(page.get_by_role("heading", name="People", exact=True)).to_be_visible()
    kept = {one["name"]: one for one in context.cookies() if "session" in one["name"]}
    assert [one["expires"] for name, one in kept.items() if name.endswith("sessionid")] == [-1]

    page.locator(".menu-button").first.click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url(f"{site.address}/sign-out/done/")
    found += faults_in_every_look(page)
    page.get_by_role("link", name="Sign out of your district account").click()
    page.wait_for_url(f"{provider.address}/oauth2/end_session?**")
    context.close()
    assert found == []


def faults_in_every_look_of_this(page: Page) -> list[str]:
    """Of an answer that can't be loaded again: its code is used up."""
    found = []
    for size in (DESK, PHONE):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for scheme in ("dark", "light"):
            page.emulate_media(color_scheme=scheme)
            found += faults_here(page)
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    return found
