"""Other weeks that a planned week is held against: minutes placed already, and the standing pattern."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping

from accounts.models import Person
from schedule.models import SessionAttendee, WeekPlan
from schedule.planner_io.content import SessionContent, WeekContent, content_read
from schedule.planner_io.quotas import Placed
from schedule.planner_io.school_days import minutes_of


def minutes_placed(
    teacher: Person, monday: dt.date, planned: Mapping[dt.date, WeekContent], first: dt.date
) -> dict[int, list[Placed]]:
    """(date, minutes) of each line's sessions in other weeks from ``first`` on; make-ups answer older minutes.

    Weeks of the run being made count as it plans them, all others as published.
    """
    found: dict[int, list[Placed]] = defaultdict(list)
    published = SessionAttendee.objects.filter(
        session__week__teacher=teacher,
        session__week__status=WeekPlan.Status.PUBLISHED,
        session__date__gte=first,
        session__makes_up=False,
    ).exclude(session__week__monday__in=[monday, *planned])
    rows = published.values_list("service_line_id", "session__date", "session__start", "session__end")
    for line, date, start, end in rows:
        found[line].append((date, minutes_of(end) - minutes_of(start)))
    for session in _sessions(content for other, content in planned.items() if other != monday):
        for line in () if session.makes_up else session.lines:
            found[line].append((session.date, session.end - session.start))
    return found


def known_from(teacher: Person, monday: dt.date, planned: Mapping[dt.date, WeekContent]) -> dt.date:
    """The Monday of the first week that was ever planned for the teacher, this one included."""
    published = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday__lt=monday)
    first = published.order_by("monday").values_list("monday", flat=True).first()
    return min([monday, *planned, *([first] if first else [])])


def _sessions(contents: Iterable[WeekContent]) -> Iterable[SessionContent]:
    return (session for content in contents for session in content.sessions)


def content_before(teacher: Person, monday: dt.date, planned: Mapping[dt.date, WeekContent]) -> WeekContent | None:
    """The standing pattern: the latest earlier week, as this run plans it or as it is in force."""
    latest = max((other for other in planned if other < monday), default=None)
    published = WeekPlan.objects.filter(
        teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday__lt=monday
    ).order_by("-monday")
    row = published.first()
    if latest is not None and (row is None or latest >= row.monday):
        return planned[latest]
    return content_read(row) if row is not None else None


def content_in_force(teacher: Person, monday: dt.date) -> WeekContent | None:
    """What is in force in that very week."""
    row = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday=monday).first()
    return content_read(row) if row is not None else None
