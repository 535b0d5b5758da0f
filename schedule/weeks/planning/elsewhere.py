"""Where students are in other teachers' published weeks: a student can be in one place at a time.

The one place where this is asked. Planning, edits and make-ups take it from a week's sources, publishing asks again
once nobody else can publish.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.starts import Span, overlap, spoken
from schedule.weeks.models import SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among, teacher_gone


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A student with another teacher on a date; minutes after midnight, local to the building."""

    date: dt.date
    span: Span
    teacher: str
    building: str

    def meets(self, date: dt.date, span: Span) -> bool:
        """Whether it shares a minute with a time of a date."""
        return self.date == date and overlap(self.span, span)

    def words(self, student: str) -> str:
        """``S01 is with Ada Vey at North School 8:35 to 9:05``; ``student`` is how the reader knows the student."""
        return f"{student} is with {self.teacher} at {self.building} {spoken(self.span)}"


type StudentsElsewhere = Mapping[int, tuple[Elsewhere, ...]]


def students_elsewhere(
    teacher: Person, students: Collection[int], first: dt.date, last: dt.date
) -> StudentsElsewhere:
    """By student, the sessions between two dates of other teachers' published weeks, in order of time.

    A consultation is held without the student and takes no time of theirs; what somebody's end or a hand-over took
    off, takes no time either.
    """
    rows = (
        SessionAttendee.objects.filter(
            student__in=students,
            session__week__status=WeekPlan.Status.PUBLISHED,
            session__date__range=(first, last),
            service_line__service_type=ServiceLine.Type.DIRECT,
        )
        .exclude(session__week__teacher=teacher)
        .exclude(teacher_gone("session__week__teacher", "session__date"))
        .select_related("session__week__teacher", "session__building")
        .order_by("session__date", "session__start", "pk")
    )
    gone = gone_among(rows)
    off = gone.left | gone.handed_over
    found: dict[int, list[Elsewhere]] = defaultdict(list)
    for row in rows:
        held = row.session
        if (held.uid, row.service_line_id) in off:
            continue
        span = (minutes_of(held.start), minutes_of(held.end))
        one = Elsewhere(held.date, span, str(held.week.teacher), held.building.name)
        found[row.student_id].append(one)
    return {student: tuple(times) for student, times in found.items()}
