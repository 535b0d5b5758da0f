"""Where students are in other teachers' published weeks: a student can be in one place at a time.

The one place where this is asked. Planning, edits and make-ups take it from a week's sources, publishing asks again
once nobody else can publish.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.starts import Span, overlap, spoken
from schedule.weeks.models import SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among, teacher_gone
from schedule.weeks.versions.content import SessionContent

SOMEBODY = "a student of yours"


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


# ---- in sentences ---------------------------------------------------------------------------------------------


def in_two_places(viewer: Person, teacher: Person, sessions: Sequence[SessionContent]) -> list[str]:
    """A sentence for each student whom another teacher's week in force holds then, in order of time.

    ``sessions`` are those of ``teacher``, of one week or several. Who may not be seen isn't named.
    """
    if not sessions:
        return []
    students = _students_of(line for one in sessions for line in one.lines)
    dates = [one.date for one in sessions]
    elsewhere = students_elsewhere(teacher, set(students.values()), min(dates), max(dates))
    if not elsewhere:
        return []
    names = student_names(viewer).full
    found: dict[str, None] = {}
    for one in sorted(sessions, key=lambda one: (one.date, one.start)):
        for student in [students[line] for line in one.lines if line in students]:
            name = names.get(student, SOMEBODY)
            found |= dict.fromkeys(_clash_words(one, name, elsewhere.get(student, ())))
    return list(found)


def _clash_words(one: SessionContent, name: str, elsewhere: Iterable[Elsewhere]) -> Iterator[str]:
    """A sentence for each time at which somebody is elsewhere during a session."""
    span = (one.start, one.end)
    for other in elsewhere:
        if other.meets(one.date, span):
            words = other.words(name)
            when = f"{one.date:%A}, {date_words(one.date)}"
            yield f"{words[:1].upper()}{words[1:]} on {when}; this week has them {spoken(span)}."


def _students_of(lines: Iterable[int]) -> dict[int, int]:
    """Who must be there, by line: nobody for a consultation."""
    rows = ServiceLine.objects.filter(pk__in=set(lines), service_type=ServiceLine.Type.DIRECT)
    return dict(rows.values_list("pk", "plan__student_id"))
