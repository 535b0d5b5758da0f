"""A student whose service begins in mid-term: entered, fitted in with the fewest moves, published, taken back."""

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import icalendar
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import Site
from tests.browser.terms.asking import (
    first_term,
    looks,
    planned,
    published,
    said,
    saved,
    site_of,
    taken_back,
    teachers_page,
)
from tests.browser.terms.districts import AS_BEFORE, WEEKS, changes_on, next_monday

pytestmark = pytest.mark.browser
STUDENT = r"/students/\d+/$"
NAME = "Wendeline Ashgrove"


@pytest.fixture(scope="module")
def full_mondays(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """Two schools, Mondays and Wednesdays, and two students."""
    with site_of("with_full_mondays", tmp_path_factory.mktemp("full-mondays"), tables) as ready:
        yield ready


def enter_student(page: Page, site: Site) -> str:
    """Somebody of the south from the day of the change on, taken on Mondays at 8:30 only; the student's page."""
    page.goto(f"{site.address}/students/")
    page.get_by_role("link", name="Add a student", exact=True).click()
    for label, words in (("First name", "Wendeline"), ("Last name", "Ashgrove"), ("Code", "N1")):
        page.get_by_label(label).fill(words)
    page.get_by_label("Grade").select_option("Grade 3")
    page.get_by_label("Building").select_option("South Hollow School")
    page.get_by_label("First day").fill(changes_on().isoformat())
    saved(page, STUDENT)
    page.get_by_role("link", name="The plan has arrived").click()
    page.get_by_label("Start").fill(changes_on().isoformat())
    page.get_by_label("End").fill((changes_on() + dt.timedelta(days=150)).isoformat())
    saved(page, STUDENT)
    page.get_by_role("link", name="Add a service").click()
    page.get_by_label("How often and how long").fill("1 x 30 min/week")
    page.get_by_label("Setting", exact=True).select_option("One to one")
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page, STUDENT, "Save with these changes")
    for days, start in (("Wed", "08:00"), ("Mon", "09:15")):
        page.get_by_role("link", name="Add a time").click()
        page.get_by_label("Days").fill(days)
        page.get_by_label("Or from").fill(start)
        page.get_by_label("To", exact=True).fill("15:00")
        saved(page, STUDENT)
    return page.url


def week_shows(page: Page, site: Site, monday: dt.date, *, student: bool) -> None:
    """Whether the published week of that Monday, its Monday and its paper have the new session."""
    page.goto(f"{site.address}/week/?week={monday}")
    rows = page.locator("table tr", has_text=NAME)
    expect(rows).to_have_count(1 if student else 0)
    if student:
        expect(rows).to_contain_text("8:30")
        expect(rows).to_contain_text("South Hollow School")
    page.goto(f"{site.address}/day/{monday}/")
    expect(page.get_by_text(NAME)).to_have_count(1 if student else 0)


def own_feed(page: Page, site: Site) -> str:
    """The address of the teacher's own days as a calendar."""
    page.goto(f"{site.address}/phone-calendar/")
    page.get_by_role("link", name="Add your own days").click()
    page.get_by_label("For which device or person").fill("my phone")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("This address is shown once.").wait_for()
    found = re.search(r"/feeds/[\w-]+\.ics", page.content())
    assert found is not None
    return site.address + found.group()


def in_feed(page: Page, feed: str) -> set[dt.date]:
    """Dates at which something begins at 8:30 in the south, by an independent reader of iCalendar (RFC 5545)."""
    events = icalendar.Calendar.from_ical(page.request.get(feed).body()).walk("VEVENT")
    south = [one for one in events if "South Hollow" in str(one.get("location", ""))]
    begun = [one.decoded("dtstart") for one in south if one["status"] == "CONFIRMED"]
    return {one.date() for one in begun if isinstance(one, dt.datetime) and (one.hour, one.minute) == (8, 30)}


def test_a_new_service_fits_in_with_the_fewest_moves(context: BrowserContext, full_mondays: Site) -> None:
    """One session gives way at once, or two and nobody drives on Wednesdays; the weeks before stay as they are."""
    page, site, monday = teachers_page(context, full_mondays), full_mondays, changes_on()
    first_term(page, site)
    feed, student = own_feed(page, site), enter_student(page, site)
    assert looks(page) == []
    page.goto(f"{site.address}/week/?week={monday}")
    expect(page.get_by_text(f"{NAME}: 1 session of 1 x 30 min/week")).to_be_visible()

    page.goto(student)
    expect(page.get_by_text("1 x 30 min/week has no usual time")).to_be_visible()
    page.get_by_role("link", name="See where it fits for the rest of the term").click()
    expect(page.get_by_label("From", exact=True)).to_have_value(monday.isoformat())
    planned(page)
    fewest = page.locator(".card", has=page.get_by_role("heading", name="Fewest moves", exact=True))
    least = page.locator(".card", has=page.get_by_role("heading", name="Least driving", exact=True))
    expect(fewest).to_contain_text("Proved: no way that places as much moves fewer.")
    expect(fewest).to_contain_text(re.compile(r"Moved\s*1\s*New\s*1"))
    expect(least).to_contain_text(re.compile(r"Moved\s*2\s*New\s*1"))
    expect(least).to_contain_text("Wednesdays 9:35, South Hollow School becomes Mondays")
    for way in (fewest, least):
        expect(way).to_contain_text(f"{NAME}: new, Mondays 8:30, South Hollow School")
        for school in ("North Hollow School", "South Hollow School"):
            expect(way.get_by_role("listitem").filter(has_text=f"the office of {school}")).to_have_count(1)
    assert looks(page) == []

    published(page)
    changed = page.url
    for number in range(WEEKS):
        week_shows(page, site, next_monday() + dt.timedelta(weeks=number), student=number >= AS_BEFORE)
    assert in_feed(page, feed) == {monday + dt.timedelta(weeks=number) for number in range(WEEKS - AS_BEFORE)}
    page.goto(student)
    expect(page.get_by_role("region", name="Usual times")).to_contain_text(
        "Mondays 8:30 to 9:00, South Hollow School"
    )
    assert looks(page) == []
    page.goto(f"{changed}print/")
    expect(page.locator("table tr", has_text="Mondays 8:30")).to_contain_text("South Hollow School")
    assert NAME.split()[0] not in page.content()
    page.goto(f"{site.address}/term/")
    expect(page.get_by_text(f"From {said(monday)} to")).to_be_visible()

    page.goto(changed)
    taken_back(page, WEEKS - AS_BEFORE)
    week_shows(page, site, monday, student=False)
    assert in_feed(page, feed) == set()
    page.goto(student)
    expect(page.get_by_text("1 x 30 min/week has no usual time")).to_be_visible()
