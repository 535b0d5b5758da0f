"""Each event by each surface: what a day is, is decided once, and every surface says the same.

The Monday of `tests.schedule.day_builders`: 8:30 north (S01), 10:00 south (F1, F2), 12:00 west (W1), 13:15 north
again (a make-up of S01). What a day off, a closed school or an early dismissal does is common practice of the
trade, no source; that a canceled event stays in the calendar as such is RFC 5545, section 3.8.1.11.
"""

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from accounts.models import Person, Substitution
from caseload.ledger.defaults import DEFAULT_REASONS
from caseload.ledger.terms import Effect
from caseload.plans.models import SchoolClass, Student
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.rows import Kind
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import Happening
from schedule.day.selectors.sheet import day_sheet
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.happenings.reasons import REASON_OF
from schedule.happenings.services.logged import happenings_log_due
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.log.selectors.sessions import day_sessions
from schedule.log.services import session_log, sessions_mark
from schedule.make_ups.selectors.needs import make_up_needs
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at
from tests.schedule.day_builders import Day, make_day
from tests.schedule.happenings.surfaces import (
    HELD,
    LEGS,
    OFF,
    PAGES,
    SITE,
    SURFACES,
    Comes,
    feeds_of,
    in_feed,
    legs_in_feed,
    legs_on_sheet,
    on_log,
    on_sheet,
    on_week,
)  # fmt: skip
from tests.schedule.log_builders import publish_session
from travel.places.models import Building

pytestmark = pytest.mark.django_db
SUNDAY = MONDAY - dt.timedelta(days=1)
NEXT_MONDAY = MONDAY + dt.timedelta(days=7)
WHO = (("S01",), ("F1", "F2"), ("W1",))
"""Students of the sessions that aren't make-ups, in order of time."""
type Four = tuple[Comes, Comes, Comes, Comes]


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday, looked at on the evening before."""
    made = make_day(cast, monkeypatch)
    made.clock("19:00", SUNDAY)
    return made


@dataclass(frozen=True)
class Event:
    """Something said of the Monday, what each of its four sessions comes to, and where one drives."""

    say: Callable[[Day], dict[str, Any]]
    sessions: Four
    stops: str
    schools: Callable[[Day], list[Building]] = lambda day: []


EVENTS: dict[str, Event] = {
    "ill all day": Event(lambda day: {"kind": "away"}, (OFF, OFF, OFF, OFF), ""),
    "away from 11:30": Event(
        lambda day: {"kind": "away", "start": at("11:30")}, (HELD, HELD, OFF, OFF), "north south"
    ),
    "stuck for 50 minutes from 8:10": Event(
        lambda day: {"kind": "late", "start": at("8:10"), "minutes": 50}, (15, HELD, HELD, HELD),
        "north south west north",
    ),
    "every school closed": Event(lambda day: {"kind": "closed"}, (OFF, OFF, OFF, OFF), ""),
    "one school closed": Event(
        lambda day: {"kind": "closed"}, (HELD, OFF, HELD, HELD), "north west north",
        lambda day: [day.cast.south],
    ),
    "a school sends home at 11:30": Event(
        lambda day: {"kind": "early_dismissal", "start": at("11:30")}, (HELD, HELD, HELD, OFF),
        "north south west north", lambda day: [day.cast.north],
    ),
    "a school sends home five minutes into a session": Event(
        lambda day: {"kind": "early_dismissal", "start": at("10:05")}, (HELD, OFF, HELD, HELD),
        "north west north", lambda day: [day.cast.south],
    ),
    "a school opens at 10:20": Event(
        lambda day: {"kind": "delayed_opening", "end": at("10:20")}, (HELD, 25, HELD, HELD),
        "north south west north", lambda day: [day.cast.south],
    ),
    "the gym is taken": Event(
        lambda day: {"kind": "space_taken", "space": day.cast.gym, "start": at("8:00"), "end": at("9:30")},
        (OFF, HELD, HELD, HELD), "south west north",
    ),
    "a student is absent": Event(
        lambda day: {"kind": "student_absent", "student": Student.objects.get(code="W1")},
        (HELD, HELD, OFF, HELD), "north south north",
    ),
    "a class is away": Event(
        lambda day: {"kind": "class_away", "school_class": SchoolClass.objects.get(code="SC")},
        (HELD, OFF, HELD, HELD), "north west north",
    ),
    "the third grade is out": Event(
        lambda day: {"kind": "closed", "grades": "3"}, (HELD, OFF, HELD, HELD), "north west north",
        lambda day: [day.cast.south],
    ),
}  # fmt: skip


def prepare(day: Day) -> None:
    """A gym for the first session, and a class for the second."""
    first, second = day.sessions[0], day.sessions[1]
    first.space = day.cast.gym
    first.save()
    second.school_class = SchoolClass.objects.create(building=day.cast.south, code="SC", name="Room 9")
    second.save()


def say(day: Day, event: Event, actor: Person | None = None) -> Happening:
    """The event, said by the teacher."""
    values = {"first_date": MONDAY, **event.say(day)}
    return happening_say(actor=actor or day.cast.teacher, values=values, buildings=event.schools(day))


# ---- the table ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVENTS)
def test_every_surface_says_the_same(day: Day, name: str) -> None:
    """Said the evening before, and taken back in one press: then the day is a usual one everywhere."""
    event = EVENTS[name]
    prepare(day)
    feeds = feeds_of(day)
    usual = [("North", "South"), ("South", "West"), ("West", "North")]
    stops = [word.title() for word in event.stops.split()]
    row = say(day, event)
    for comes, legs, read in (
        (event.sessions, list(pairwise(stops)), (*SURFACES, *PAGES)),
        ((HELD,) * 4, usual, SURFACES),
    ):
        for surface in read:
            assert (surface.__name__, surface(day)) == (surface.__name__, list(comes))
        for whose, (feed, shown) in feeds.items():
            assert (whose, in_feed(day, feed)) == (whose, [comes[at] for at in shown])
        for drives in LEGS:
            assert (drives.__name__, drives(day)) == (drives.__name__, legs)
        assert legs_in_feed(feeds["teacher"][0]) == [goal for _, goal in legs]
        happening_take_back(actor=day.cast.teacher, row=row)


@pytest.mark.parametrize("name", EVENTS)
def test_the_day_after(day: Day, name: str) -> None:
    """What fell out is logged and, by its reason, to be made up; only what was to be held waits for its log.

    Which reasons leave minutes owed is what ships as the district's table: common practice, not law.
    """
    event = EVENTS[name]
    prepare(day)
    row = say(day, event)
    day.clock("7:00", MONDAY + dt.timedelta(days=1))
    happenings_log_due()
    today, teacher = MONDAY + dt.timedelta(days=1), day.cast.teacher
    waiting = sum(one.things for one in attention(teacher, teacher, today).of(Kind.UNLOGGED))
    assert waiting == sum(comes != OFF for comes in event.sessions)
    owed = {one.code for one in DEFAULT_REASONS if one.effect is Effect.OWED}
    out = event.sessions[:3] if REASON_OF[HappeningKind(row.kind)] in owed else ()
    codes = [code for comes, those in zip(out, WHO, strict=False) if comes == OFF for code in those]
    needs = make_up_needs(teacher, teacher, today)
    missed = {need.student.code for need in needs for one in need.open if one.missed == MONDAY}
    assert missed == set(codes), "a make-up that fell out leaves open what it was for, and owes nothing of its own"


def test_a_day_off_sends_nobody_out(day: Day) -> None:
    """No place to be parked at, no drive to tap, no session to come, and the next day is another one."""
    say(day, EVENTS["ill all day"])
    sheet = day_sheet(day.cast.teacher, day.cast.teacher, MONDAY)
    assert (sheet.begin, sheet.sessions, sheet.drive_minutes) == (None, (), 0)
    assert sheet.reason == "No session takes place: the teacher is away."
    assert {one.log for one in sheet.lines if one.kind == "session"} == {""}
    assert all(one.off for one in sheet.lines), "meeting, lunch and preparation as well"
    day.clock("19:00", SUNDAY - dt.timedelta(days=1))
    assert day_sheet(day.cast.teacher, day.cast.teacher, SUNDAY).next_day is None
    client = Client()
    client.force_login(day.cast.teacher)
    page = client.get(reverse("day_of", args=[MONDAY])).content.decode()
    assert "Leave home in time" not in page
    assert "To come" not in client.get(reverse("log"), {"date": f"{MONDAY}"}).content.decode()


@pytest.mark.parametrize("kind", ["closed", "away"])
def test_what_was_held_before_it_was_said_stays_held(day: Day, kind: str) -> None:
    """Snow at ten, said of the whole day: the first session was logged as given, and is driven to."""
    prepare(day)
    feeds = feeds_of(day)
    day.clock("9:20")
    session_log(actor=day.cast.teacher, session=day.sessions[0], client_id=uuid.uuid4())
    row = happening_say(actor=day.cast.teacher, values={"kind": kind, "first_date": MONDAY})
    for surface in SURFACES:
        assert (surface.__name__, surface(day)) == (surface.__name__, [HELD, OFF, OFF, OFF])
    for whose, (feed, shown) in feeds.items():
        assert (whose, in_feed(day, feed)) == (whose, [HELD if at == 0 else OFF for at in shown])
    client = Client()
    client.force_login(day.cast.teacher)
    page = client.get(reverse("log"), {"date": f"{MONDAY}"}).content.decode()
    assert page.count("Doesn\u2019t take place") == 0, "what fell out is logged, what was held is logged"
    happening_take_back(actor=day.cast.teacher, row=row)
    assert on_week(day) == [HELD] * 4


def test_one_session_in_two_weeks_is_what_each_of_its_days_says(day: Day) -> None:
    """A week brought in from elsewhere may know a session by the same uid: each date decides for itself."""
    prepare(day)
    again = publish_session(NEXT_MONDAY, [day.cast.line], "8:30", "9:15")
    again.uid, again.space = day.sessions[0].uid, day.cast.gym
    again.save()
    own, _ = feeds_of(day)["teacher"]
    for date, comes in ((MONDAY, [True, False]), (NEXT_MONDAY, [False, True])):
        for kind in ("closed", "space_taken"):
            row = happening_say(
                actor=day.cast.teacher,
                values={"kind": kind, "first_date": date, "space": day.cast.gym if kind == "space_taken" else None},
            )
            events = [
                one for one in Calendar.from_ical(feed_body(own)).events
                if isinstance(one.start, dt.datetime) and f"{one.start:%H:%M}" == "08:30"
            ]  # fmt: skip
            found = [str(one.get("STATUS", "")) == "CANCELLED" for one in sorted(events, key=lambda one: one.start)]
            assert (kind, found) == (kind, comes)
            happening_take_back(actor=day.cast.teacher, row=row)


def test_a_covered_day_is_held(day: Day) -> None:
    """The teacher is ill and somebody stands in: nothing falls out, and the substitute's calendar has all of it."""
    prepare(day)
    cover = Substitution.objects.create(
        teacher=day.cast.teacher, substitute=day.cast.substitute, first_date=MONDAY, last_date=MONDAY
    )
    say(day, EVENTS["ill all day"])
    assert on_week(day) == on_sheet(day) == on_log(day) == [HELD] * 4
    feed, _ = feed_add(
        actor=day.cast.substitute, kind="substitute", site=SITE, values={"label": "cover"}, substitution=cover
    )
    assert in_feed(day, feed) == [HELD] * 4
    cover.delete()
    assert on_week(day) == [OFF] * 4


def test_a_day_marked_in_the_log_is_canceled_in_every_calendar(day: Day) -> None:
    """Absent by the log alone, as days were marked before: nobody comes, and every calendar says so."""
    prepare(day)
    feeds = feeds_of(day)
    day.clock("7:00")
    teacher = day.cast.teacher
    sessions = day_sessions(teacher, teacher, MONDAY)
    sessions_mark(actor=teacher, sessions=sessions, reason="teacher_absent", client_id=uuid.uuid4())
    for whose, (feed, shown) in feeds.items():
        assert (whose, in_feed(day, feed)) == (whose, [OFF] * len(shown))
    assert legs_in_feed(feeds["teacher"][0]) == []
    assert legs_on_sheet(day) == []
