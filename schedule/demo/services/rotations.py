"""Who is at which station in the demo: each class's last session behind today, and its next one."""

import datetime as dt

from accounts.models import Person
from schedule.demo.services.log import evening_of
from schedule.stations.models import StationRotation
from schedule.stations.selectors.asking import class_hour, stations_for
from schedule.stations.selectors.beginning import choices_to_begin
from schedule.stations.services import rotation_make
from schedule.weeks.models import PlannedSession, WeekPlan

FORTNIGHT = dt.timedelta(days=14)
FEWEST = 3
"""A class of fewer students has no use for stations."""


def demo_rotations_make(*, teacher: Person, today: dt.date) -> int:
    """Work them out where a session has none yet; how many were. Each as if on the evening before, or today.

    The first of a class begins with the stations of its goals, each later one with what was chosen for the last.
    """
    made = set(StationRotation.objects.filter(teacher=teacher).values_list("session_uid", flat=True))
    wanted = [one for one in _sessions(teacher, today) if one.uid not in made]
    for session in wanted:
        hour = class_hour(teacher, session.uid)
        row = rotation_make(
            actor=teacher, session=session.uid, choices=choices_to_begin(teacher, hour, stations_for(teacher))
        )
        eve = min(session.date, today) - dt.timedelta(days=1)
        StationRotation.objects.filter(pk=row.pk).update(made_at=evening_of(teacher, eve))
    return len(wanted)


def _sessions(teacher: Person, today: dt.date) -> list[PlannedSession]:
    """The last session of each class before today and the first from today on, in order."""
    rows = PlannedSession.objects.filter(
        week__teacher=teacher,
        week__status=WeekPlan.Status.PUBLISHED,
        school_class__isnull=False,
        date__gte=today - FORTNIGHT,
        date__lt=today + FORTNIGHT,
    ).prefetch_related("attendees")
    classes = [one for one in rows.order_by("date", "start") if len(_students(one)) >= FEWEST]
    last = {one.school_class_id: one for one in classes if one.date < today}
    following = {one.school_class_id: one for one in reversed(classes) if one.date >= today}
    return sorted([*last.values(), *following.values()], key=lambda one: (one.date, one.start))


def _students(session: PlannedSession) -> set[int]:
    return {one.student_id for one in session.attendees.all()}
