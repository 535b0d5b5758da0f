"""The surfaces that show a day, each read as a person or a program reads it, in the terms of one table.

Of each planned session in order of time: held, off, or the minutes that are left of it; of the drives: from where
to where.
"""

import re
from collections.abc import Callable

from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from accounts.models import Person
from caseload.plans.models import SchoolClass
from schedule.day.selectors.sheet import day_sheet
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.log.selectors.sessions import day_sessions
from schedule.packet.selectors import packet_of
from schedule.trips.selectors.month import month_view
from schedule.trips.selectors.proposals import proposed_trips
from schedule.weeks.selectors.detail import build_detail
from tests.api import Api
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day
from travel.mileage.selectors import claims_of

SITE = "https://plan.school.example"
HELD, OFF = "held", "off"
"""A session takes place as planned, or doesn't; a number: the minutes that are left of it."""

type Comes = str | int


def on_sheet(day: Day) -> list[Comes]:
    """Today."""
    lines = [one for one in day_sheet(day.cast.teacher, day.cast.teacher, MONDAY).lines if one.kind == "session"]
    return [_comes(one.off, one.session.left if one.session else None) for one in lines]


def on_week(day: Day) -> list[Comes]:
    """The week's page, its print and its API."""
    days = build_detail(day.cast.teacher, day.week).days
    return [_comes(one.off, one.left) for one in days[0].sessions]


def on_log(day: Day) -> list[Comes]:
    """The log."""
    return [_comes(one.falls_out, one.left) for one in day_sessions(day.cast.teacher, day.cast.teacher, MONDAY)]


def on_packet(day: Day) -> list[Comes]:
    """The packet that a substitute is given."""
    (found,) = packet_of(day.cast.teacher, day.cast.teacher, MONDAY, MONDAY).days
    lines = [one.line for one in found.lines if one.line.kind == "session"]
    return [_comes(one.off, one.session.left if one.session else None) for one in lines]


def on_week_page(day: Day) -> list[Comes]:
    """The week's page as a table."""
    page = page_of(day.cast.teacher, reverse("week_version", args=[day.week.pk]))
    table = page.partition("week-table")[2].partition("</table>")[0]
    rows = re.findall(r"<tr(?: class=\"off\")?>\s*<th scope=\"row\".*?</tr>", table, re.DOTALL)
    return [_read(row) for row in rows]


def on_editor(day: Day) -> list[Comes]:
    """The editor's table."""
    page = page_of(day.cast.teacher, reverse("week_edit", args=[day.week.pk]))
    table = page.partition("The sessions as a table")[2]
    return [_read(row) for row in re.findall(r"<tr>\s*<th scope=\"row\".*?</tr>", table, re.DOTALL)]


def on_wall(day: Day) -> list[Comes]:
    """The week that hangs on a wall."""
    page = page_of(day.cast.teacher, reverse("week_print", args=[day.week.pk]))
    rows = re.findall(r"<tr class=\"session(?: off)?\">.*?</tr>", page, re.DOTALL)
    return [OFF if "session off" in row else _read(row) for row in rows]


def on_week_api(day: Day) -> list[Comes]:
    """The API of the week."""
    found = Api(day.cast.teacher).get(f"weeks/{day.week.pk}/")
    return [_comes(one["off"], one["left"]) for one in found["days"][0]["sessions"]]


def page_of(person: Person, address: str) -> str:
    """What somebody reads there."""
    client = Client()
    client.force_login(person)
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.content.decode()


def _read(row: str) -> Comes:
    """What a row of a page says in words."""
    left = re.search(r"(\d+) minutes left", row)
    if left is not None:
        return int(left[1])
    return OFF if "Doesn\u2019t take place" in row else HELD


def on_api(day: Day) -> list[Comes]:
    """The API of the day."""
    found = Api(day.cast.teacher).get(f"days/{MONDAY}/")
    return [_comes(one["off"], one["session"]["left"]) for one in found["lines"] if one["kind"] == "session"]


def in_feed(day: Day, feed: Feed) -> list[Comes]:
    """A calendar: what it says of each session, in order; what isn't in it is left out."""
    events = {str(one["UID"]): one for one in Calendar.from_ical(feed_body(feed)).events}
    found: list[Comes] = []
    for session in day.sessions:
        event = events.get(str(session.uid))
        if event is None:
            continue
        minutes = int((event.end - event.start).total_seconds() // 60)
        planned = (session.end.hour - session.start.hour) * 60 + session.end.minute - session.start.minute
        canceled = str(event.get("STATUS", "")) == "CANCELLED"
        found.append(OFF if canceled else HELD if minutes == planned else minutes)
    return found


def feeds_of(day: Day) -> dict[str, tuple[Feed, list[int]]]:
    """Feeds of teacher, office and class, each with the places of the sessions that it shows."""
    owner, values, room = day.cast.teacher, {"label": "phone", "days_ahead": 30}, SchoolClass.objects.get(code="SC")
    own, _ = feed_add(actor=owner, kind="teacher", site=SITE, values=values)
    office, _ = feed_add(actor=day.cast.office, kind="building", site=SITE, values=values, building=day.cast.north)
    of_class, _ = feed_add(actor=owner, kind="class", site=SITE, values=values, school_class=room)
    return {"teacher": (own, [0, 1, 2, 3]), "office": (office, [0, 3]), "class": (of_class, [1])}


def _comes(off: str, left: int | None) -> Comes:
    return OFF if off else HELD if left is None else left


def legs_on_week(day: Day) -> list[tuple[str, str]]:
    """The drives of the week's page that are driven, by school."""
    items = build_detail(day.cast.teacher, day.week).days[0].items
    driven = sorted((one for one in items if one.kind == "drive" and not one.off), key=lambda one: one.start_minute)
    return [(one.origin_name.split()[0], one.building_name.split()[0]) for one in driven]


def legs_on_sheet(day: Day) -> list[tuple[str, str]]:
    """The drives of Today."""
    lines = day_sheet(day.cast.teacher, day.cast.teacher, MONDAY).held
    legs = [one.leg for one in lines if one.leg is not None]
    return [(one.origin_name.split()[0], one.destination_name.split()[0]) for one in legs]


def legs_in_feed(feed: Feed) -> list[str]:
    """Where the drives of the teacher's calendar lead."""
    found = [
        one for one in Calendar.from_ical(feed_body(feed)).events
        if "Drive" in str(one["CATEGORIES"].to_ical()) and str(one.get("STATUS", "")) != "CANCELLED"
    ]  # fmt: skip
    texts = [str(one["SUMMARY"]) for one in sorted(found, key=lambda one: one.start)]
    return [next(word for word in ("North", "South", "West") if word in text) for text in texts]


def legs_claimed(day: Day) -> list[tuple[str, str]]:
    """The trips of the month's mileage between two schools."""
    teacher = day.cast.teacher
    trips = proposed_trips(teacher, claims_of(teacher), MONDAY, MONDAY).trips.values()
    return [
        (one.origin.name.split()[0], one.destination.name.split()[0])
        for one in trips
        if one.origin is not None and one.destination is not None
    ]


def legs_on_month(day: Day) -> list[tuple[str, str]]:
    """The month's page of trips, which a voucher is made from."""
    teacher = day.cast.teacher
    days = month_view(teacher, teacher, MONDAY.replace(day=1)).days
    trips = [trip for one in days if one.date == MONDAY for trip in one.trips]
    return [
        (one.origin.split()[0], one.destination.split()[0]) for one in trips if one.origin_id and one.destination_id
    ]


SURFACES: tuple[Callable[[Day], list[Comes]], ...] = (on_sheet, on_week, on_log, on_packet, on_api, on_week_api)
PAGES: tuple[Callable[[Day], list[Comes]], ...] = (on_week_page, on_editor, on_wall)
LEGS: tuple[Callable[[Day], list[tuple[str, str]]], ...] = (
    legs_on_week,
    legs_on_sheet,
    legs_claimed,
    legs_on_month,
)
