"""A closing is one decision: day sheet, week, prints, feeds and the API tell the same day.

Each is read on its own and held against the others; what a closing does is common practice, no source.
"""

from collections.abc import Iterable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from caseload.delivery.services.undo import sending_undo
from caseload.delivery.told import Outcome
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import calendar_entry_save
from schedule.day.selectors.sheet import day_sheet
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.weeks import week_detail
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day
from tests.schedule.log_builders import log_session

pytestmark = pytest.mark.django_db

type Drives = set[tuple[str, str]]


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday."""
    return make_day(cast, monkeypatch)


def close(day: Day, where: str, kind: str = "closed") -> CalendarEntry:
    """A school, or all."""
    building = {"all": None, "north": day.cast.north, "south": day.cast.south, "west": day.west}[where]
    row = CalendarEntry(building=building, kind=kind, title="Burst pipe")
    return calendar_entry_save(
        actor=day.cast.coordinator, row=row, values={"first_date": MONDAY, "last_date": None}
    )


def new_feed(day: Day, **values: object) -> Feed:
    """A phone's."""
    feed, _ = feed_add(
        actor=day.cast.teacher, kind="teacher", values={"label": "phone", **values}, site="https://plan.example"
    )
    return feed


def parsed(feed: Feed) -> list[Any]:
    """A feed's events, read back from its bytes."""
    return list(Calendar.from_ical(feed_body(feed)).walk("VEVENT"))


def events(feed: Feed) -> list[dict[str, str]]:
    """What a phone shows."""
    return [
        {
            "what": str(one["CATEGORIES"].cats[0]),
            "summary": str(one["SUMMARY"]),
            "start": f"{one['DTSTART'].dt:%H:%M}",
            "end": f"{one['DTEND'].dt:%H:%M}",
            "status": str(one["STATUS"]),
            "note": str(one.get("DESCRIPTION", "")),
            "location": str(one.get("LOCATION", "")),
        }
        for one in parsed(feed)
    ]


def hours(start: object, end: object) -> tuple[str, str]:
    """Two times of day, whoever writes them."""
    return str(start)[:5], str(end)[:5]


def told(day: Day) -> dict[str, tuple[Drives, Drives]]:
    """Hours of the sessions that take place and of the drives, by who tells them."""
    teacher = day.cast.teacher
    week = WeekPlan.objects.get(pk=day.week.pk)
    sheet = day_sheet(teacher, teacher, MONDAY)
    detail = week_detail(teacher, week).days[0]
    api = Api(teacher)
    by_api = api.get(f"days/{MONDAY}/")["lines"]
    week_by_api = api.get(f"weeks/{week.pk}/")["days"][0]
    shown = events(new_feed(day))

    def held(lines: Iterable[dict[str, object]], kind: str) -> Drives:
        return {hours(one["start"], one["end"]) for one in lines if one["kind"] == kind and not one["off"]}

    return {
        "sheet": (
            {hours(one.start, one.end) for one in sheet.held if one.kind == "session"},
            {hours(one.start, one.end) for one in sheet.held if one.leg is not None},
        ),
        "week": (
            {hours(one.start, one.end) for one in detail.held},
            {hours(one.start, one.end) for one in detail.items if one.kind == "drive" and not one.off},
        ),
        "day by API": (held(by_api, "session"), held(by_api, "drive")),
        "week by API": (held(week_by_api["sessions"], "session"), held(week_by_api["items"], "drive")),
        "feed": (
            {
                hours(one["start"], one["end"])
                for one in shown
                if one["what"] in {"Session", "Make-up"} and one["status"] == "CONFIRMED"
            },
            {hours(one["start"], one["end"]) for one in shown if one["what"] == "Drive"},
        ),
    }


@pytest.mark.parametrize(
    ("closings", "sessions", "drives"),
    [
        ((), 4, 3),
        ((("south", "closed"),), 3, 2),
        ((("west", "no_students"),), 3, 2),
        ((("north", "no_students"),), 2, 3),  # the team meets there
        ((("all", "closed"), ("north", "open")), 2, 0),
        ((("all", "closed"),), 0, 0),
        ((("all", "no_students"),), 0, 0),  # the team's meeting is where the day begins
    ],
)
def test_everyone_tells_the_same_day(
    day: Day, closings: tuple[tuple[str, str], ...], sessions: int, drives: int
) -> None:
    """To the minute."""
    for where, kind in closings:
        close(day, where, kind)
    found = told(day)
    assert {who: one for who, one in found.items() if one != found["sheet"]} == {}
    assert len(found["sheet"][0]) == sessions
    assert len(found["sheet"][1]) == drives


def test_nobody_leaves_home_on_a_closed_day(day: Day) -> None:
    """Neither for a lunch at the closed school nor for the meeting there; the sheet says why."""
    close(day, "all")
    sheet = day_sheet(day.cast.teacher, day.cast.teacher, MONDAY)
    assert sheet.begin is None
    assert [line.kind for line in sheet.held] == ["meeting"]
    client = Client()
    client.force_login(day.cast.teacher)
    page = client.get(reverse("day_of", args=[MONDAY])).content.decode()
    assert "Leave home" not in page
    shown = events(new_feed(day))
    assert {one["what"] for one in shown if one["status"] == "CONFIRMED"} == {"Meeting", "Closure"}


def test_the_day_begins_where_somebody_drives_to(day: Day) -> None:
    """The first school is closed: the day begins in the next one."""
    close(day, "north")
    begin = day_sheet(day.cast.teacher, day.cast.teacher, MONDAY).begin
    assert begin is not None
    assert begin.building_name == "South Hollow School"


def test_a_day_without_anything_says_so_everywhere(day: Day) -> None:
    """On the sheet, the week's page, its print and by the API."""
    close(day, "all")
    said = "No session takes place: the schools of this day have no students."
    client = Client()
    client.force_login(day.cast.teacher)
    for address in (
        reverse("day_of", args=[MONDAY]),
        f"{reverse('week')}?week={MONDAY}",
        reverse("week_print", args=[day.week.pk]),
    ):
        assert said in client.get(address).content.decode(), address
    api = Api(day.cast.teacher)
    found = api.get(f"weeks/{day.week.pk}/")["days"][0]
    assert (found["is_off"], found["reason"], found["stops"]) == (True, said, [])
    assert api.get(f"days/{MONDAY}/")["reason"] == said


def test_the_weeks_page_and_its_print_mark_what_is_off(day: Day) -> None:
    """Session and drives of the closed school, and the drive in their place."""
    close(day, "south")
    client = Client()
    client.force_login(day.cast.teacher)
    page = client.get(f"{reverse('week')}?week={MONDAY}").content.decode()
    assert page.count("South Hollow School is closed") >= 4
    assert "Straight there" in page
    assert "canceled: South Hollow School is closed" in page
    wall = client.get(reverse("week_print", args=[day.week.pk])).content.decode()
    assert "(South Hollow School is closed)" in wall


def test_an_office_is_told_of_its_own_school(day: Day) -> None:
    """And of no other; it sees no drive."""
    close(day, "south")
    close(day, "north")
    detail = week_detail(day.cast.office, day.week)
    assert {one.off for one in detail.days[0].sessions} == {"North Hollow School is closed"}
    assert detail.days[0].items == ()
    assert "South" not in detail.days[0].reason


def test_a_feeds_notes_send_nobody_to_a_closed_school(day: Day) -> None:
    """The note of the straight drive stands at the session that follows; none leaves the closed school."""
    close(day, "south")
    notes = [one for one in events(new_feed(day, drives="note")) if "Travel" in one["note"]]
    assert not any("South" in one["note"] for one in notes)
    first = min(notes, key=lambda one: one["start"])
    assert (first["start"], "minutes to West Hollow School" in first["note"]) == ("12:00", True)
    assert "leave North Hollow School at" in first["note"]


def test_a_lunch_at_a_closed_school_has_no_place(day: Day) -> None:
    """It is eaten elsewhere."""
    feed = new_feed(day)
    lunch = next(one for one in events(feed) if one["what"] == "Lunch")
    assert "South" in lunch["location"]
    close(day, "south")
    lunch = next(one for one in events(feed) if one["what"] == "Lunch")
    assert lunch["location"] == ""


def test_the_log_changes_a_running_feed(day: Day) -> None:
    """Nobody was taught there: its drives go, and come back with what the log said taken back."""
    feed = new_feed(day)
    before = {one["start"] for one in events(feed) if one["what"] == "Drive"}
    day.clock("15:30")
    lines = [one.service_line_id for one in day.sessions[2].attendees.all()]
    made = log_session(day.cast.teacher, day.sessions[2], {line: Outcome(reason="school_closed") for line in lines})
    after = {one["start"] for one in events(feed) if one["what"] == "Drive"}
    assert before - after
    sheet = day_sheet(day.cast.teacher, day.cast.teacher, MONDAY, day.now)
    assert after == {f"{one.start:%H:%M}" for one in sheet.held if one.leg is not None}
    sending = made[0].versions.get().sending
    assert sending is not None
    sending_undo(actor=day.cast.teacher, sending=sending)
    assert {one["start"] for one in events(feed) if one["what"] == "Drive"} == before


def test_a_feed_keeps_its_numbers_where_nothing_changed(day: Day) -> None:
    """A closing elsewhere is no change; the event of a drive that stays keeps its id."""
    feed = new_feed(day)
    before = parsed(feed)
    close(day, "south")
    after = {str(one["UID"]): one for one in parsed(feed)}
    kept = [one for one in before if "12:35" in str(one["DTSTART"].dt)]
    assert kept
    assert all(after[str(one["UID"])].to_ical() == one.to_ical() for one in kept)
