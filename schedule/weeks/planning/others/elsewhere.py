"""What other teachers' weeks hold: a student, a class and a place in a space can each be had once at a time.

The one place where this is asked. Planning, edits and make-ups take it from a week's sources, publishing asks again
once nobody else can publish.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.spans import Span, joined, overlap
from schedule.calendar.starts import spoken
from schedule.weeks.models import PlannedSession, SessionAttendee, WeekPlan
from schedule.weeks.selectors.leaving import gone_among, teacher_gone

IN_FORCE = Q(session__week__status=WeekPlan.Status.PUBLISHED)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A session with another teacher on a date; minutes after midnight, local to the building.

    ``students``: those who are asked about and must be there, ``services`` what it is held for, consultations
    too. ``place``: the building. ``draft``: it isn't in force. ``way``: minutes that the students need to get there
    from their school. ``uid``: of the session, ``None`` where it isn't kept.
    """

    date: dt.date
    span: Span
    teacher: str
    building: str
    space: int | None = None
    school_class: int | None = None
    pushed_in: bool = False
    students: frozenset[int] = field(default_factory=frozenset)
    draft: bool = False
    place: int = 0
    services: frozenset[int] = field(default_factory=frozenset)
    way: int = 0
    uid: UUID | None = None

    @property
    def away(self) -> Span:
        """From when to when its students are gone: held in another building, with both ways."""
        return (self.span[0] - self.way, self.span[1] + self.way)

    def meets(self, date: dt.date, span: Span) -> bool:
        """Whether it shares a minute with a time of a date."""
        return self.date == date and overlap(self.span, span)

    def words(self, who: str) -> str:
        """``S01 is with Ada Vey at North School 8:35 to 9:05``; ``who`` in the reader's words."""
        return f"{who} is with {self.teacher} at {self.building} {spoken(self.span)}"


type StudentsElsewhere = Mapping[int, tuple[Elsewhere, ...]]


def held_by_others(
    teacher: Person, concerns: Q, first: dt.date, last: dt.date, weeks: Q = IN_FORCE
) -> tuple[Elsewhere, ...]:
    """Sessions between two dates of other teachers' weeks, in order of time.

    ``concerns`` says which, as a condition on attendances; ``weeks`` of which versions. A consultation is held
    without the student and takes no time of theirs; what somebody's end or a hand-over took off takes nobody's
    time and no space.
    """
    rows = (
        SessionAttendee.objects.filter(
            concerns, weeks, session__week__district=teacher.district_id, session__date__range=(first, last)
        )
        .exclude(session__week__teacher=teacher)
        .exclude(teacher_gone("session__week__teacher", "session__date"))
        .select_related("session__week__teacher", "session__building", "service_line")
        .order_by("session__date", "session__start", "pk")
    )
    gone = gone_among(rows)
    off = gone.left | gone.handed_over
    present: dict[int, list[SessionAttendee]] = defaultdict(list)
    for row in rows:
        if (row.session.uid, row.service_line_id) not in off:
            present[row.session_id].append(row)
    return tuple(_elsewhere(there[0].session, there) for there in present.values())


def _elsewhere(held: PlannedSession, there: Collection[SessionAttendee]) -> Elsewhere:
    direct = [row for row in there if row.service_line.service_type == ServiceLine.Type.DIRECT]
    return Elsewhere(
        date=held.date,
        span=(minutes_of(held.start), minutes_of(held.end)),
        teacher=str(held.week.teacher),
        building=held.building.name,
        space=held.space_id,
        school_class=held.school_class_id,
        pushed_in=held.setting == ServiceLine.Setting.PUSH_IN,
        students=frozenset(row.student_id for row in direct),
        draft=held.week.status != WeekPlan.Status.PUBLISHED,
        place=held.building_id,
        services=frozenset(row.service_line.service_id for row in there),
        way=max(row.service_line.way_minutes for row in there) if held.students_from_id is not None else 0,
        uid=held.uid,
    )


def of_students(students: Collection[int]) -> Q:
    """Attendances of students at what is held with them."""
    return Q(student__in=students, service_line__service_type=ServiceLine.Type.DIRECT)


def by_student(held: Iterable[Elsewhere]) -> StudentsElsewhere:
    """The same sessions by student."""
    found: dict[int, list[Elsewhere]] = defaultdict(list)
    for one in held:
        for student in one.students:
            found[student].append(one)
    return {student: tuple(times) for student, times in found.items()}


def by_class(held: Iterable[Elsewhere]) -> Mapping[int, tuple[Elsewhere, ...]]:
    """The same sessions by the class that they are held with, or in."""
    found: dict[int, list[Elsewhere]] = defaultdict(list)
    for one in held:
        if one.school_class is not None:
            found[one.school_class].append(one)
    return {school_class: tuple(times) for school_class, times in found.items()}


# ---- how full a space is --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Use:
    """Somebody else's use of a space on a date; ``school_class`` is who is in it then, ``who`` the teacher's name.

    A class's own period has no ``who``. ``students``: who is in it, as far as they are asked about.
    """

    span: Span
    school_class: int | None = None
    who: str = ""
    students: frozenset[int] = field(default_factory=frozenset)


def spans_in_use(uses: Iterable[Use], but: int | None = None) -> tuple[Span, ...]:
    """When a space is used; a class is in it once, however many teachers are with it. Without one class.

    Two teachers with the same students at the same time are in it once, too.
    """
    alone, classes = [], defaultdict(list)
    for use in _once(uses):
        if use.school_class is None:
            alone.append(use.span)
        elif use.school_class != but:
            classes[use.school_class].append(use.span)
    return (*alone, *(span for spans in classes.values() for span in joined(spans)))


def _once(uses: Iterable[Use]) -> list[Use]:
    """The uses, a session that two teachers give together once: its students are in both."""
    known: list[Use] = []
    for use in sorted(uses, key=lambda one: (one.school_class is None, -len(one.students))):
        joint = use.school_class is None and bool(use.students)
        if not (joint and any(one.span == use.span and use.students <= one.students for one in known)):
            known.append(use)
    return known
