"""The log behind the demo: each session of its weeks logged on its day, by what `schedule.demo.happened` tells."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from zoneinfo import ZoneInfo

from accounts.models import Person
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.delivery.services.log import decision_record, deliveries_log
from caseload.delivery.told import LogItem, Outcome
from caseload.plans.models import DATED, ServiceLine
from schedule.demo.happened import Happened, happened
from schedule.weeks.models import PlannedSession, WeekPlan

LOGGED_AT = dt.time(15, 40)
"""Of each day: local time."""

LEFT_OPEN = dt.time(12)
"""Of the last day behind the demo, sessions that begin later than this wait to be logged."""

DECIDED = "The plan's team, at its meeting"


def evening_of(person: Person, day: dt.date) -> dt.datetime:
    """When somebody logs that day."""
    zone = ZoneInfo(person.district.time_zone) if person.district is not None else dt.UTC
    return dt.datetime.combine(day, LOGGED_AT, tzinfo=zone)


def past_week_log(teacher: Person, monday: dt.date, last: dt.date) -> None:
    """Log the week in force day by day; on the last day behind the demo the morning only."""
    week = WeekPlan.objects.get(teacher=teacher, monday=monday, status=WeekPlan.Status.PUBLISHED)
    sessions = PlannedSession.objects.filter(week=week, date__lte=last).select_related("building")
    by_day: dict[dt.date, list[PlannedSession]] = defaultdict(list)
    for session in sessions.prefetch_related("attendees").order_by("date", "start"):
        if session.date < last or session.start < LEFT_OPEN:
            by_day[session.date].append(session)
    wanted = {one.service_line_id for rows in by_day.values() for row in rows for one in row.attendees.all()}
    lines = ServiceLine.objects.select_related("plan__student__building__district").prefetch_related(*DATED)
    known = lines.in_bulk(wanted)
    for day, rows in by_day.items():
        _day_log(teacher, day, rows, known)


def _day_log(
    teacher: Person, day: dt.date, sessions: Sequence[PlannedSession], lines: Mapping[int, ServiceLine]
) -> None:
    """All sessions of a day at once, as on its evening: one by one they would be asked the same things again."""
    then = evening_of(teacher, day)
    attending = [(session, one.service_line_id) for session in sessions for one in session.attendees.all()]
    items = [_item(teacher, session, lines[line]) for session, line in attending]
    if items:
        sending = _id(sessions[0].uid, 0)
        deliveries_log(actor=teacher, items=items, action="session_log", sending=sending, now=then)
    uids = [session.uid for session in sessions]
    DeliveryEntry.objects.filter(session_uid__in=uids).update(created_at=then)
    DeliveryVersion.objects.filter(entry__session_uid__in=uids).update(logged_at=then)


def _item(teacher: Person, session: PlannedSession, line: ServiceLine) -> LogItem:
    start = session.start.hour * 60 + session.start.minute
    minutes = session.end.hour * 60 + session.end.minute - start
    told = happened(session.date, session.building.code, line.plan.student.code, minutes)
    return LogItem(
        client_id=_id(session.uid, line.pk),
        service_line=line,
        date=session.date,
        planned_minutes=minutes,
        outcome=_outcome(told),
        start=session.start,
        session_uid=session.uid,
        makes_up=session.makes_up,
        makes_up_for=session.makes_up_for,
        setting=session.setting,
        provider_id=teacher.pk,
    )


def _outcome(told: Happened) -> Outcome:
    return Outcome(told.minutes, told.reason, told.note, told.given_by or None)


def _id(session: uuid.UUID, line: int) -> uuid.UUID:
    return uuid.uuid5(session, f"past/{line}")


def team_decides(teacher: Person, entries: Iterable[DeliveryEntry], day: dt.date) -> None:
    """The team decided about the first missed sessions that the district's table leaves to it."""
    for number, entry in enumerate(entries):
        decision_record(
            actor=teacher,
            entry=entry,
            effect="not_owed" if number % 2 else "owed",
            decided_by=DECIDED,
            decided_on=day,
            expected_revision=entry.revision,
            now=evening_of(teacher, day),
        )
