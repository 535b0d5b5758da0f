"""What a version of a week holds, written over what it held."""

import uuid
from collections.abc import Iterable
from decimal import Decimal

from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import time_of
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, UnplacedSession, WeekPlan
from schedule.weeks.versions.content import ItemContent, SessionContent, WeekContent


def content_write(week: WeekPlan, content: WeekContent) -> None:
    """Replace a version's rows by this content (the caller holds the transaction); saves ``figures`` too."""
    week.sessions.all().delete()
    week.items.all().delete()
    week.unplaced.all().delete()
    rows = PlannedSession.objects.bulk_create(_session_row(week, one) for one in content.sessions)
    students = _students_of(line for one in content.sessions for line in one.lines)
    SessionAttendee.objects.bulk_create(
        SessionAttendee(session=row, service_line_id=line, student_id=students[line])
        for row, one in zip(rows, content.sessions, strict=True)
        for line in one.lines
    )
    DayItem.objects.bulk_create(_item_row(week, one) for one in content.items)
    UnplacedSession.objects.bulk_create(
        UnplacedSession(
            week=week,
            service_line_id=one.line,
            sessions=one.sessions,
            minutes=one.minutes,
            reasons=list(one.reasons),
            ask=one.ask,
        )
        for one in content.unplaced
    )
    week.figures = dict(content.figures or {})
    week.save(update_fields=["figures"])


def _students_of(lines: Iterable[int]) -> dict[int, int]:
    rows = ServiceLine.objects.filter(pk__in=set(lines))
    return dict(rows.values_list("pk", "plan__student_id"))


def _session_row(week: WeekPlan, one: SessionContent) -> PlannedSession:
    return PlannedSession(
        week=week,
        uid=uuid.UUID(one.uid),
        date=one.date,
        start=time_of(one.start),
        end=time_of(one.end),
        building_id=one.building,
        space_id=one.space,
        students_from_id=one.students_from,
        school_class_id=one.school_class,
        setting=one.setting,
        period=one.period,
        cycle_day=one.cycle_day,
        pinned=one.pinned,
        makes_up=one.makes_up,
        makes_up_for=one.makes_up_for,
        planner_key=one.key,
    )


def _item_row(week: WeekPlan, one: ItemContent) -> DayItem:
    return DayItem(
        week=week,
        date=one.date,
        kind=one.kind,
        start=time_of(one.start),
        end=time_of(one.end),
        origin_id=one.origin,
        building_id=one.building,
        drive_minutes=one.drive_minutes,
        miles=Decimal(one.miles),
        source=one.source,
        title=one.title,
    )
