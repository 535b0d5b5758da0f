"""Published weeks without the planner, and moments to log them at. Invented names only."""

import datetime as dt
import uuid
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from accounts.models import Person
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import delivery_log
from caseload.delivery.told import AS_PLANNED, LogItem, Outcome
from caseload.plans.models import Plan, ServiceLine
from schedule.calendar.models import SchoolYear
from schedule.log.services import session_log
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import at, make_bells

EVENING = dt.time(18, 0)


def evening_of(day: dt.date, zone: str = "America/New_York") -> dt.datetime:
    """Six in the evening of a day, when its sessions are over."""
    return dt.datetime.combine(day, EVENING, ZoneInfo(zone))


def bring_to_now(cast: Cast, today: dt.date) -> None:
    """A school year around today in the clock's own zone, for pages and the API, which ask the clock."""
    cast.district.time_zone = "UTC"
    cast.district.save()
    first, last = today - dt.timedelta(days=60), today + dt.timedelta(days=60)
    SchoolYear.objects.create(district=cast.district, name="Now", first_day=first, last_day=last)
    make_bells(cast.north)
    Plan.objects.update(start=first, end=last)
    ServiceLine.objects.update(start=first, end=last)


def publish_week(teacher: Person, monday: dt.date) -> WeekPlan:
    """A published week without sessions; the week itself if there is one."""
    assert teacher.district is not None
    row, _ = WeekPlan.objects.get_or_create(
        teacher=teacher,
        monday=monday,
        status=WeekPlan.Status.PUBLISHED,
        defaults={
            "district": teacher.district,
            "last_date": monday + dt.timedelta(days=6),
            "version": 1,
            "created_by": teacher,
            "published_by": teacher,
        },
    )
    return row


def publish_session(
    day: dt.date, lines: Sequence[ServiceLine], start: str = "8:30", end: str = "9:00", *, makes_up: bool = False
) -> PlannedSession:
    """A session of the first line's teacher in the published week of its date, in the student's building."""
    first = lines[0]
    session = PlannedSession.objects.create(
        week=publish_week(first.provider, day - dt.timedelta(days=day.weekday())),
        date=day,
        start=at(start),
        end=at(end),
        building=first.plan.student.building,
        setting=first.setting,
        planner_key=f"line-{first.pk}",
        makes_up=makes_up,
    )
    for line in lines:
        SessionAttendee.objects.create(session=session, service_line=line, student=line.plan.student)
    return session


def log_session(
    actor: Person, session: PlannedSession, exceptions: dict[int, Outcome] | None = None
) -> list[DeliveryEntry]:
    """Log a session on its evening, under a new client id."""
    zone = session.building.zone
    return session_log(
        actor=actor,
        session=session,
        client_id=uuid.uuid4(),
        exceptions=exceptions,
        now=evening_of(session.date, zone),
    )


def log_line(
    cast: Cast, day: dt.date, planned: int = 30, outcome: Outcome = AS_PLANNED, **values: object
) -> DeliveryEntry:
    """Log minutes of the cast's line by its teacher on the evening of a day."""
    item = LogItem(uuid.uuid4(), cast.line, day, planned, outcome, **values)  # type: ignore[arg-type]  # LogItem's own
    return delivery_log(actor=cast.teacher, item=item, now=evening_of(day))
