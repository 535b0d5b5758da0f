"""Two who log the same session, one of them without a signal: both sides stand beside each other until a person
chooses, and so they do where the month was closed meanwhile."""

import re

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import Site, sign_in
from tests.browser.phone_day import DESK, TEACHER
from tests.browser.test_offline import LONG
from tests.browser.unsent.conftest import (
    PLANNED,
    Phones,
    card,
    log_as_planned,
    opened,
    opened_database,
    send,
    stored,
)

pytestmark = [pytest.mark.browser, pytest.mark.long]
CLOSE = """
    INSERT INTO caseload_logmonth (district_id, teacher_id, month, status, revision)
    SELECT district_id, id, date('now', 'start of month'), 'closed', 1 FROM accounts_person WHERE username = ?
"""
FORGET_THE_SECOND = (
    "DELETE FROM caseload_deliveryversion WHERE entry_id = (SELECT max(id) FROM caseload_deliveryentry)",
    "DELETE FROM caseload_deliveryentry WHERE id = (SELECT max(id) FROM caseload_deliveryentry)",
)
REOPEN = "UPDATE caseload_logmonth SET status = 'open'"


def row_of(unsent: Page, words: str) -> Locator:
    """An entry of the page of what isn't sent."""
    return unsent.locator(".unsent-rows > li").filter(has_text=words)


def carried_out(site: Site, statement: str, *values: str) -> None:
    """On the server's database, as if it had been done at its desk."""
    with opened_database(site) as found:
        found.execute(statement, values)
        found.commit()


def test_two_phones_of_one_account_and_a_colleague_at_the_desk(
    chromium: Browser, phones: Phones, hard_site: Site
) -> None:
    """The same sessions on both phones without a signal, and one of them at the desk meanwhile: each stands once as
    it came first, and whoever said otherwise is asked. One is put right, the other is let go."""
    phone, second = phones(), phones()
    one, other = opened(phone, hard_site, "/log/"), opened(second, hard_site, "/log/")
    phone.set_offline(True)
    second.set_offline(True)
    for number in (0, 1, 2, 3):
        log_as_planned(one, number)
    for number in (0, 4):
        log_as_planned(other, number)
    log_as_planned(other, 1, absent=True)
    desk = chromium.new_context()
    page = desk.new_page()
    sign_in(page, hard_site, DESK)
    page.goto(f"{hard_site.address}/log/")
    card(page, 2).get_by_role("button", name=PLANNED).click()
    expect(page.locator(".toast")).to_contain_text("Saved.", timeout=LONG)
    desk.close()
    send(one)
    expect(one.locator("#unsent")).to_have_text("1 refused: look", timeout=LONG)
    send(other)
    expect(other.locator("#unsent")).to_have_text("2 refused: look", timeout=LONG)
    assert sorted(stored(hard_site)) == sorted([[(30, DESK)], *[[(30, TEACHER)]] * 4])
    other.goto(f"{hard_site.address}/unsent/")
    mine = row_of(other, "0 present, 1 absent")
    expect(mine.get_by_role("row").nth(1)).to_contain_text("30 of 30 minutes", timeout=LONG)
    expect(mine.get_by_role("row").nth(1)).to_contain_text("0 of 30 minutes")
    mine.get_by_role("button", name=re.compile("^Mine is right")).click()
    expect(other.locator(".unsent-rows > li")).to_have_count(1, timeout=LONG)
    assert [(30, TEACHER), (0, TEACHER)] in stored(hard_site)
    row_of(other, "1 present").get_by_role("button", name=re.compile("^Keep what stands")).click()
    expect(other.get_by_text("Everything is sent.")).to_be_visible()
    assert len(stored(hard_site)) == 5


def test_the_others_of_a_group_are_logged_as_they_were_tapped(phones: Phones, hard_site: Site) -> None:
    """One of two students stands already and is in question; the other waits, and isn't lost by the choice."""
    hard_site.manage("shell", "-c", "from tests.browser.phone_day import one_more_in_the_last as make; make()")
    log, unsent = opened(phone := phones(), hard_site, "/log/"), opened(phone, hard_site, "/unsent/")
    desk = opened(phones(), hard_site, "/log/")
    phone.set_offline(True)
    card(log, 5).locator("[name=absent]").first.check()
    log_as_planned(log, 5)
    card(desk, 5).get_by_role("button", name=PLANNED).click()
    expect(desk.locator(".toast")).to_contain_text("Saved.", timeout=LONG)
    for statement in FORGET_THE_SECOND:
        carried_out(hard_site, statement)
    send(unsent)
    mine = row_of(unsent, "1 present, 1 absent")
    expect(mine.get_by_role("row").nth(2)).to_contain_text("not logged", timeout=LONG)
    mine.get_by_role("button", name=re.compile("^Mine is right")).click()
    expect(unsent.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
    assert stored(hard_site) == [[(30, TEACHER), (0, TEACHER)], [(30, TEACHER)]]


def test_a_month_that_was_closed_meanwhile(phones: Phones, hard_site: Site) -> None:
    """What stands in it and what was tapped stay beside each other; once it is open again it is sent as it was."""
    unsent = opened(phone := phones(), hard_site, "/unsent/")
    log = opened(phone, hard_site, "/log/")
    phone.set_offline(True)
    log_as_planned(log, 0, absent=True)
    carried_out(hard_site, CLOSE, TEACHER)
    send(unsent)
    mine = row_of(unsent, "0 present, 1 absent")
    expect(mine).to_contain_text("is closed", timeout=LONG)
    expect(mine.get_by_role("row").nth(1)).to_contain_text("not logged")
    expect(mine.get_by_role("row").nth(1)).to_contain_text("0 of 30 minutes")
    assert stored(hard_site) == []
    carried_out(hard_site, REOPEN)
    mine.get_by_role("button", name=re.compile("^Send again")).click()
    expect(unsent.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
    assert stored(hard_site) == [[(0, TEACHER)]]
