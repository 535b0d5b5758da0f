"""Ill at 6:40, snow at 6:10, home at 11:30, the gym gone: said on a phone, seen everywhere, taken back whole.

The Monday of `tests.schedule.day_builders`, four sessions in three schools. Who hears and what falls out is common
practice of the trade, no source.
"""

import datetime as dt
import re
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import icalendar
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, ROOT, Site, empty_site, sign_in, wait_until_up
from tests.conftest import PASSWORD
from tests.schedule.builders import MONDAY

pytestmark = [pytest.mark.browser, pytest.mark.long]
# Read by `manage.py shell`: the Monday in force, with a gym, and a feed whose address is printed.
PREPARE = """
from schedule.feeds.services.feeds import feed_add
from tests.conftest import make_cast
from tests.schedule.day_builders import plan_day
day = plan_day(make_cast())
day.sessions[0].space = day.cast.gym
day.sessions[0].save()
print(feed_add(actor=day.cast.teacher, kind="teacher", site="{site}", values={{"label": "x"}})[1])
"""
COVER = """
from accounts.models import Person, Substitution
people = {one.username: one for one in Person.objects.all()}
Substitution.objects.create(
    teacher=people["teacher"], substitute=people["substitute"], first_date="2026-09-14", last_date="2026-09-14")
"""
GONE = "CANCELLED"
NOT_HELD = "Doesn\N{RIGHT SINGLE QUOTATION MARK}t take place"
OFF = "tr.off:not(.quiet-row)"


@dataclass
class Morning:
    """The site, its clock and the teacher's feed."""

    site: Site
    clock: Path
    feed: str

    def at(self, text: str) -> None:
        """Set the clock on the Monday; New York is four hours behind Greenwich in September."""
        hour, minute = map(int, text.split(":"))
        self.clock.write_text(f"{MONDAY}T{hour:02d}:{minute:02d}:00-04:00")

    def calendar(self) -> dict[str, str]:
        """The sessions of the teacher's calendar: when each begins and its state, with its minutes."""
        with urllib.request.urlopen(self.feed, timeout=30) as answer:  # noqa: S310 -- our own server
            events = icalendar.Calendar.from_ical(answer.read()).events
        return {
            f"{one.start:%H:%M}": f"{one['STATUS']} {(one.end - one.start) // dt.timedelta(minutes=1)}"
            for one in events
            if "Session" in str(one["CATEGORIES"].to_ical()) or "Make-up" in str(one["CATEGORIES"].to_ical())
        }


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Morning]:
    """Served by the clock of a file."""
    folder = tmp_path_factory.mktemp("mornings")
    ready = empty_site(folder, tables)
    ready.password = PASSWORD
    ready.environment["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    feed = ready.manage("shell", "--no-imports", "-c", PREPARE.format(site=ready.address)).split()[-1]
    one = Morning(ready, folder / "clock", feed)
    one.at("6:00")
    port = ready.address.rpartition(":")[2]
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.browser.mornings.timed_site", port, str(one.clock)],
        cwd=ROOT, env=ready.environment,
    )  # fmt: skip
    try:
        wait_until_up(ready.address, process)
        yield one
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture
def phones(chromium: Browser, morning: Morning) -> Iterator["Phones"]:
    """The phones of the people of a morning."""
    one = Phones(chromium, morning, {})
    yield one
    for page in one.pages.values():
        page.context.close()


@dataclass
class Phones:
    """A phone for each person, signed in when it is first taken up."""

    chromium: Browser
    morning: Morning
    pages: dict[str, Page]

    def of(self, username: str) -> Page:
        """Somebody's."""
        if username not in self.pages:
            page = self.chromium.new_context(viewport=PHONE).new_page()  # type: ignore[arg-type]
            sign_in(page, self.morning.site, username)
            self.pages[username] = page
        return self.pages[username]

    def open(self, username: str, path: str) -> Page:
        """A page on it, no wider than the phone."""
        page = self.of(username)
        page.goto(f"{self.morning.site.address}{path}")
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
        return page

    def says(self, kind: str, **fields: str) -> Page:
        """The teacher says what happened, from Today: two taps to its form; what it does is shown, and saved."""
        page = self.open("teacher", "/day/")
        page.get_by_role("link", name="Something happened").click()
        page.get_by_role("link", name=re.compile(f"^{kind}")).click()
        for label, value in fields.items():
            field = page.get_by_label(re.compile("^" + label.replace("_", " ")))
            if field.evaluate("one => one.tagName") == "SELECT":
                found = field.locator("option", has_text=value).get_attribute("value")
                field.select_option(found)
            else:
                field.fill(value)
        page.get_by_role("button", name="See what it does").click()
        expect(page.get_by_role("button", name="Save", exact=True)).to_be_visible()
        return page

    def off_on_every_page(self, count: int) -> None:
        """So many of the four sessions are off on the week, the editor, the week for the wall and the log."""
        week = self.open("teacher", "/week/?week=2026-09-14")
        expect(week.locator(f".week-table {OFF}")).to_have_count(count)
        week = self.open("coordinator", f"/week/?week=2026-09-14&teacher={self._teacher()}")
        expect(week.locator(f".week-table {OFF}")).to_have_count(count)
        states = list(self.morning.calendar().values())
        assert [one.split()[0] for one in states].count(GONE) == count
        log = self.open("teacher", "/log/")
        expect(log.locator(".log-session")).to_have_count(4)
        expect(log.get_by_text("To come", exact=True)).to_have_count(0)
        expect(self.open("teacher", "/mileage/").get_by_role("heading", level=1)).to_be_visible()
        expect(self.open("teacher", "/attention/").get_by_text("to be logged")).to_have_count(0)

    def _teacher(self) -> str:
        command = "from accounts.models import Person; print(Person.objects.get(username='teacher').pk)"
        return self.morning.site.manage("shell", "--no-imports", "-c", command).split()[-1]

    def take_back(self) -> None:
        """One press on Today, and everything is as it was."""
        page = self.open("teacher", "/day/")
        page.get_by_role("button", name=re.compile("^Take back")).click()
        expect(page.get_by_text("The days are as they were.")).to_be_visible()
        self.off_on_every_page(0)
        assert self.morning.calendar() == USUAL
        expect(self.open("teacher", "/day/").get_by_text("Leave home in time")).to_be_visible()


USUAL = {"08:30": "CONFIRMED 45", "10:00": "CONFIRMED 45", "12:00": "CONFIRMED 30", "13:15": "CONFIRMED 30"}


def test_ill_at_6_40_with_a_cover(morning: Morning, phones: Phones) -> None:
    """Nothing is held; where somebody stands in, all of it is held by somebody else, and off once nobody does."""
    morning.at("6:40")
    page = phones.says("Ill or away")
    expect(page.get_by_text("4 sessions fall out")).to_be_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("No session takes place: the teacher is away.")).to_be_visible()
    expect(page.get_by_text("Leave home in time")).to_have_count(0)
    phones.off_on_every_page(4)
    office = phones.open("office", "/week/?week=2026-09-14")
    expect(office.locator(f".week-table {OFF}")).to_have_count(2)
    expect(office.get_by_text("Tarn")).to_have_count(0)
    phones.take_back()
    morning.site.manage("shell", "--no-imports", "-c", COVER)
    page = phones.says("Ill or away")
    expect(page.get_by_text("No planned session and no drive changes.")).to_be_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("stands in for")).to_be_visible()
    cover = phones.open("substitute", "/day/")
    expect(cover.get_by_text("Leave home in time")).to_be_visible()
    expect(cover.get_by_text(NOT_HELD)).to_have_count(0)
    assert morning.calendar() == USUAL
    command = "from accounts.models import Substitution; Substitution.objects.all().delete()"
    morning.site.manage("shell", "--no-imports", "-c", command)
    phones.off_on_every_page(4)
    phones.take_back()


def test_snow_at_6_10(morning: Morning, phones: Phones) -> None:
    """Every school, in the calendar with one press to take it back."""
    morning.at("6:10")
    page = phones.says("School closed", Note="Snow")
    expect(page.get_by_text("4 sessions fall out")).to_be_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Closed: All schools")).to_be_visible()
    phones.off_on_every_page(4)
    calendar = phones.open("coordinator", "/calendar/")
    expect(calendar.get_by_text("said by Teacher Vey")).to_be_visible()
    expect(calendar.get_by_role("button", name=re.compile("^Take back"))).to_be_visible()
    expect(phones.open("office", "/calendar/").get_by_text("Snow")).to_be_visible()
    phones.take_back()


def test_home_at_11_30_said_at_9(morning: Morning, phones: Phones) -> None:
    """Two of four fall out; the first is being held, the second takes place."""
    morning.at("9:00")
    page = phones.says("Early dismissal", Students_go_home_at="11:30")
    expect(page.get_by_text("2 sessions fall out")).to_be_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Early dismissal: All schools")).to_be_visible()
    phones.off_on_every_page(2)
    assert morning.calendar() == USUAL | {"12:00": f"{GONE} 30", "13:15": f"{GONE} 30"}
    phones.take_back()


def test_the_gym_is_gone(morning: Morning, phones: Phones) -> None:
    """One session has no place; nobody drives to the first school for it, and the rest of the day stays."""
    morning.at("7:15")
    page = phones.says("Space taken", Space="Gym", From="08:00", To="09:30")
    expect(page.get_by_text("1 session falls out")).to_be_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    # The reason stood on the page before it, too: that Today is shown tells that it is saved.
    expect(page).to_have_url(re.compile("/day/"))
    expect(page.get_by_text("its space is taken").first).to_be_visible()
    phones.off_on_every_page(1)
    assert morning.calendar() == USUAL | {"08:30": f"{GONE} 45"}
    phones.take_back()
