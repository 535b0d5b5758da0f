"""The queries of a feed: rows as plain values, and only those columns that it shows.

A building's feed is read without any table that knows of students; a class's and a teacher's ask for students only
where the subscriber wants them shown, and then only for those whom the owner may see.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from django.db.models import F, Q, QuerySet

from caseload.plans.enrollment.selectors import in_class_on
from caseload.plans.models import Student
from caseload.plans.names import student_names
from schedule.feeds.models import Feed
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among
from travel.places.models import Building

type Window = tuple[dt.date, dt.date]


@dataclass(frozen=True, slots=True)
class FeedBuilding:
    """A building as a feed shows it."""

    pk: int
    code: str
    name: str
    address: str
    zone: str
    latitude: Decimal | None
    longitude: Decimal | None

    def location(self, space: str = "") -> str:
        """Space, school and street address in one line."""
        return ", ".join(part for part in (space, self.name, self.address) if part)


@dataclass(frozen=True, slots=True)
class SessionRow:
    """A planned session as the query gives it."""

    pk: int
    uid: UUID
    date: dt.date
    start: dt.time
    end: dt.time
    building: int
    space: str | None
    class_name: str | None
    setting: str
    period: str
    cycle_day: str
    key: str
    teacher: int
    monday: dt.date
    students_from: int | None = None


SESSION_FIELDS = (
    "pk", "uid", "date", "start", "end", "building_id", "space__name", "school_class__name", "setting", "period",
    "cycle_day", "planner_key", "week__teacher_id", "week__monday", "students_from_id",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ItemRow:
    """A drive, lunch, preparation or meeting as the query gives it; minutes at the wheel are None if unknown."""

    date: dt.date
    kind: str
    start: dt.time
    end: dt.time
    origin: int | None
    building: int | None
    drive_minutes: int | None
    miles: Decimal
    title: str
    teacher: int


ITEM_FIELDS = (
    "date", "kind", "start", "end", "origin_id", "building_id", "drive_minutes", "miles", "title",
    "week__teacher_id",
)  # fmt: skip


def published_weeks(feed: Feed) -> QuerySet[WeekPlan]:
    """The weeks in force that the feed is read from."""
    weeks = WeekPlan.objects.filter(district_id=feed.district_id, status=WeekPlan.Status.PUBLISHED)
    return weeks if feed.teacher_id is None else weeks.filter(teacher_id=feed.teacher_id)


def session_rows(feed: Feed, window: Window) -> list[SessionRow]:
    """The sessions that the feed shows."""
    rows = PlannedSession.objects.filter(week__in=published_weeks(feed), date__range=window)
    if feed.kind == Feed.Kind.BUILDING:
        rows = rows.filter(Q(building=feed.building) | Q(students_from=feed.building))
    elif feed.kind == Feed.Kind.CLASS:
        members = in_class_on(feed.school_class_id, student="attendees__student", day=F("date"))
        rows = rows.filter(Q(school_class_id=feed.school_class_id) | members).distinct()
    elif feed.substitution is not None:
        named = [one.session_uid for one in feed.substitution.sessions.all()]
        rows = rows.filter(uid__in=named) if named else rows
    return _sessions(rows)


def rows_of_days(feed: Feed, window: Window) -> list[SessionRow]:
    """Every session of the days, also those that somebody else gives: what is driven past depends on them."""
    return _sessions(PlannedSession.objects.filter(week__in=published_weeks(feed), date__range=window))


def _sessions(rows: QuerySet[PlannedSession]) -> list[SessionRow]:
    return [SessionRow(*values) for values in rows.order_by("date", "start", "pk").values_list(*SESSION_FIELDS)]


def is_shared(feed: Feed) -> bool:
    """Whether it is of somebody who gives some sessions of a day, and drives between these alone."""
    return feed.substitution is not None and feed.substitution.sessions.exists()


def item_rows(feed: Feed, window: Window) -> list[ItemRow]:
    """Drives, lunch, preparation and meetings of the days."""
    rows = DayItem.objects.filter(week__in=published_weeks(feed), date__range=window)
    return [ItemRow(*values) for values in rows.order_by("date", "start", "pk").values_list(*ITEM_FIELDS)]


def places_of(district_id: int, ids: Iterable[int]) -> dict[int, FeedBuilding]:
    rows = Building.objects.filter(district_id=district_id, pk__in=set(ids)).select_related("district")
    return {
        row.pk: FeedBuilding(row.pk, row.code, row.name, row.address, row.zone, row.latitude, row.longitude)
        for row in rows
    }


def students_shown(feed: Feed, window: Window) -> dict[int, list[str]]:
    """How the students of each session appear; nothing is read where they don't."""
    if feed.kind == Feed.Kind.BUILDING or feed.students == Feed.Students.NOTHING:
        return {}
    rows = SessionAttendee.objects.filter(
        session__week__in=published_weeks(feed),
        session__date__range=window,
        student__in=Student.objects.visible_to(feed.reader),
    )
    if feed.kind == Feed.Kind.CLASS:
        rows = rows.filter(in_class_on(feed.school_class_id, student="student", day=F("session__date"))).distinct()
    found: dict[int, list[str]] = defaultdict(list)
    gone = gone_among(rows)
    fields = ("session_id", "student_id", "student__code", "session__uid", "service_line_id")
    attending = [
        (session, student, code)
        for session, student, code, uid, line in rows.order_by("student__code").values_list(*fields)
        if not gone.is_absent(uid, line)
    ]
    names = student_names(feed.reader, among={student for _, student, _ in attending})
    shown = {Feed.Students.INITIALS: names.initials, Feed.Students.NAMES: names.full}
    how = shown.get(Feed.Students(feed.students), {})
    for session, student, code in attending:
        found[session].append(how.get(student, code))
    return found
