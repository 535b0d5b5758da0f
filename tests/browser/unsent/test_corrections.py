"""All that was typed can be put right or taken back before it is sent."""

import json
import re
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.browser.conftest import Site, unfold
from tests.browser.test_offline import LONG
from tests.browser.unsent.conftest import opened, opened_database, send

pytestmark = [pytest.mark.browser, pytest.mark.long]
MISSED = "declined"


def corrected(unsent: Page, number: int, **values: str) -> Locator:
    """An entry, once these values stand in it; by the labels of its fields, with _ for a blank."""
    row = unsent.locator(".unsent-rows > li").nth(number)
    row.locator("summary").click()
    for name, value in values.items():
        field = row.get_by_label(name.replace("_", " "))
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    row.get_by_role("button", name="Keep this").click()
    expect(row.locator("details[open]")).to_have_count(0)
    return row


def waiting(page: Page) -> list[dict[str, Any]]:
    """What will be sent."""
    found: list[dict[str, Any]] = page.evaluate("phoneQueue.list().then((all) => all.map((one) => one.body))")
    return found


def asked(site: Site, query: str) -> Any:
    """The first row of the server's database."""
    with opened_database(site) as found:
        return found.execute(query).fetchone()


def test_what_was_typed_of_a_session_and_of_a_goal(phone: BrowserContext, hard_site: Site) -> None:
    """Minutes, reason and note of a log; the figure, who took it and the note of a data point. What is emptied is
    not sent."""
    student = asked(hard_site, "SELECT min(id) FROM caseload_student")[0]
    log, unsent = opened(phone, hard_site, "/log/"), opened(phone, hard_site, "/unsent/")
    href = log.get_by_role("link", name=re.compile("^Other reasons")).first.get_attribute("href")
    more, data = opened(phone, hard_site, f"{href}"), opened(phone, hard_site, f"/data/take/?student={student}")
    phone.set_offline(True)
    more.get_by_label("Minutes delivered").fill("20")
    more.get_by_label("What happened").select_option("student_absent")
    more.get_by_text("Add a note").click()
    more.get_by_label("Note").fill("Left erly.")
    more.get_by_role("button", name="Log the session").click()
    expect(more.get_by_text("Not sent yet", exact=True)).to_be_visible(timeout=LONG)
    goal = data.locator(".take-goal").last
    goal.locator("[name=value]").fill("4")
    goal.locator("[name=note]").evaluate("(one) => { one.value = 'Wnidy.'; }")
    goal.locator("[name=taken_by_name]").evaluate("(one) => { one.value = 'Aide'; }")
    goal.get_by_role("button", name=re.compile("^Save")).click()
    rows = unsent.locator(".unsent-rows > li")
    expect(rows).to_have_count(2)
    corrected(unsent, 0, Minutes_delivered="25", What_happened=MISSED, Note="")
    shown = corrected(unsent, 1, Value="5", Taken_by="Aide Roe", Note="Windy.")
    expect(shown.locator("strong").first).to_have_text("5")
    line, point = waiting(unsent)[0]["exceptions"][0], waiting(unsent)[1]
    del line["service_line"]
    assert line == {"delivered_minutes": 25, "reason": MISSED}
    assert (point["value"], point["taken_by_name"], point["note"]) == ("5", "Aide Roe", "Windy.")
    send(unsent)
    expect(unsent.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
    read = "SELECT delivered_minutes, note FROM caseload_deliveryversion"
    assert asked(hard_site, read) == (25, "")
    assert asked(hard_site, "SELECT value, taken_by_name, note FROM caseload_datapoint") == (
        5,
        "Aide Roe",
        "Windy.",
    )


def test_what_was_typed_of_a_drive_and_of_a_day_away(phone: BrowserContext, hard_site: Site) -> None:
    """The odometer; the day, the note. One is taken back: nothing of it reaches the server."""
    sheet, unsent = opened(phone, hard_site, "/day/"), opened(phone, hard_site, "/unsent/")
    away = opened(phone, hard_site, "/happened/new/?kind=away")
    phone.set_offline(True)
    unfold(sheet)
    drive = sheet.locator(".day-line.drive").first
    drive.get_by_text("With the odometer").first.click()
    drive.locator("[name=odometer]").first.fill("41200")
    drive.get_by_role("button", name=re.compile("^Start driving")).click()
    away.get_by_label("First day").fill("2027-01-14")
    away.get_by_label("Note").fill("Traning")
    away.get_by_role("button", name="See what it does").click()
    expect(unsent.locator(".unsent-rows > li")).to_have_count(2, timeout=LONG)
    corrected(unsent, 0, Odometer="41250,5")
    expect(corrected(unsent, 1, First_day="2027-01-15", Note="Training")).to_contain_text(": 2027-01-15")
    told = waiting(unsent)
    assert (told[0]["odometer"], told[1]["first_date"], told[1]["note"]) == ("41250.5", "2027-01-15", "Training")
    unsent.locator(".unsent-rows > li").nth(1).get_by_role("button", name=re.compile("^Take back")).click()
    send(unsent)
    expect(unsent.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
    assert json.dumps(asked(hard_site, "SELECT odometer_before FROM travel_drivelog")) == "[41250.5]"
    assert asked(hard_site, "SELECT count(*) FROM schedule_happening") == (0,)
