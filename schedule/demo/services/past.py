"""A term behind the invented county: weeks, log, make-ups, drives, vouchers, signed months, a student who moved.

Everything goes through the services that pages use, each as if on its day, so that nothing is in the demo that a
district couldn't have. It is loaded once, after the district and before its first week is planned.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.models import DeliveryEntry
from caseload.plans.models import Student
from caseload.plans.services.enrollments import student_move
from schedule.closing.content import digest_of
from schedule.closing.selectors import content_of
from schedule.closing.services import month_close, month_sign
from schedule.demo.services.goals import past_goals_load
from schedule.demo.services.log import evening_of, past_week_log, team_decides
from schedule.demo.services.people import contacts_load
from schedule.demo.services.reports import past_reports_tell
from schedule.demo.services.road import past_drives_log, past_trips_confirm, past_vouchers_submit
from schedule.demo.services.weeks import past_week_publish, sessions_of_file
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.school_weeks import next_full_week
from travel.places.models import Building

MOVED, MOVED_FROM, MOVED_ON = "S34", "FENN", dt.date(2026, 10, 5)
LAST_DAY = dt.date(2027, 6, 25)
MOST_WEEKS = 18
"""A term: more isn't loaded, however late in the year it is."""

DAYS_OF_TAPS = 28
"""Drives were tapped for so many days before the demo begins."""


@dataclass(frozen=True, slots=True)
class Past:
    """What was loaded."""

    weeks: int = 0
    entries: int = 0
    make_ups: int = 0
    trips: int = 0
    points: int = 0


def demo_past_load(*, teacher: Person, coordinator: Person, folder: Path, today: dt.date) -> Past:
    """Load what lies behind `today`, all of it or nothing; nothing where a week of it is in force already.

    `folder` holds the table of sessions. All weeks before the one that the demo plans are published, those that
    begin after `today` too, and logged up to yesterday. Raises ``ApplicationError`` where the table doesn't fit
    the other files.
    """
    last = today - dt.timedelta(days=1)
    with transaction.atomic():
        if WeekPlan.objects.filter(teacher=teacher).exists():
            return Past()
        sessions = sessions_of_file(folder / "sessions.csv")
        mondays = _weeks_behind(teacher, sessions, today)
        if not mondays or sessions[mondays[0]][0].date > last:
            return Past()
        _student_moves(teacher, sessions[min(sessions)][0].date)
        for monday in mondays:
            past_week_publish(teacher, monday, sessions[monday], last)
        last = max(one.date for monday in mondays for one in sessions[monday] if one.date <= last)
        for monday in mondays:
            past_week_log(teacher, monday, last)
        _team_decides(teacher, last)
        contacts_load(teacher, folder / "contacts.csv")
        points = past_goals_load(teacher, folder / "goals.csv", sessions[min(sessions)][0].date, LAST_DAY, last)
        past_reports_tell(teacher, sessions[min(sessions)][0].date, last)
        trips = _roads(teacher, coordinator, mondays[0], last)
        _months(teacher, coordinator, mondays[0], last)
    entries = DeliveryEntry.objects.given_for(teacher)
    return Past(len(mondays), entries.count(), entries.filter(makes_up=True).count(), trips, points)


def _weeks_behind(teacher: Person, mondays: Iterable[dt.date], today: dt.date) -> list[dt.date]:
    """Those that lie behind the week which the demo plans.

    The one of today is among them, and so are short weeks to come: left out, all that they hold of a month would
    be owed by the week that is planned, which then has no room for it.
    """
    planned = next_full_week(teacher, today)
    return [one for one in sorted(mondays) if one < planned][-MOST_WEEKS:]


def _student_moves(teacher: Person, first_day: dt.date) -> None:
    """One student began the year at another school."""
    student = Student.objects.visible_to(teacher).get(code=MOVED)
    now, before = student.building, Building.objects.visible_to(teacher).get(code=MOVED_FROM)
    student_move(actor=teacher, student=student, from_day=first_day, values={"building": before})
    student.refresh_from_db()
    student_move(actor=teacher, student=student, from_day=MOVED_ON, values={"building": now})


def _team_decides(teacher: Person, last: dt.date) -> None:
    """About half of what waited for the team three weeks ago is decided."""
    day = last - dt.timedelta(days=10)
    waiting = DeliveryEntry.objects.given_for(teacher).filter(
        versions__reason__effect="team", date__lt=day - dt.timedelta(days=10), makes_up=False
    )
    team_decides(teacher, waiting.order_by("date", "pk").distinct()[:6], day)


def _months_between(first: dt.date, last: dt.date) -> list[dt.date]:
    """The first days of the months from one date to another."""
    count = (last.year - first.year) * 12 + last.month - first.month + 1
    start = first.year * 12 + first.month - 1
    return [dt.date((start + number) // 12, (start + number) % 12 + 1, 1) for number in range(count)]


def _roads(teacher: Person, coordinator: Person, first: dt.date, last: dt.date) -> int:
    past_drives_log(teacher, last - dt.timedelta(days=DAYS_OF_TAPS), last)
    months = _months_between(first, last)
    confirmed = sum(past_trips_confirm(teacher, month, last - dt.timedelta(days=5)) for month in months)
    past_vouchers_submit(teacher, coordinator, months[:-1])
    return confirmed


def _months(teacher: Person, coordinator: Person, first: dt.date, last: dt.date) -> None:
    """Months that are over are signed; all but the last of these are closed."""
    over = _months_between(first, last)[:-1]
    for month in over:
        then = evening_of(teacher, _after(month))
        digest = digest_of(content_of(teacher, month))
        act = month_sign(actor=teacher, teacher=teacher, month=month, name=str(teacher), digest=digest, now=then)
        if month != over[-1]:
            month_close(
                actor=coordinator,
                teacher=teacher,
                month=month,
                expected_revision=act.month.revision,
                now=then + dt.timedelta(days=4),
            )


def _after(month: dt.date) -> dt.date:
    """The third of the month after."""
    return _months_between(month, month + dt.timedelta(days=31))[1].replace(day=3)


def demo_people(username: str) -> Person:
    """Somebody of the demo; raises ``ApplicationError`` where the demo isn't loaded."""
    found = Person.objects.filter(username=username).select_related("district").first()
    if found is None:
        raise ApplicationError("The demo isn't loaded. Run manage.py load_demo first.", code="no_demo")
    return found
