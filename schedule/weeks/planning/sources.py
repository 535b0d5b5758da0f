"""What is in the way of a session, loaded for one week: spaces, others' use of them, holds, class meetings."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.db.models import Q

from accounts.models import District, Person
from caseload.delivery.selectors.log import settings_of
from caseload.plans.models import Enrollment, SchoolClass, Student, StudentHold, enrollment_nearest
from schedule.aides.hours import AidesNeeded
from schedule.aides.selectors import aides_needed
from schedule.calendar.happened import Said
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.models import ClassMeeting, SpaceFreeTime
from schedule.calendar.models.meetings import TimeSlotRow
from schedule.calendar.selectors.happened import said_between
from schedule.calendar.selectors.school_days import BuildingCalendar, minutes_of
from schedule.calendar.spans import Span
from schedule.calendar.starts import Bar, ClassSpan, Hold, SpaceDay, StudentDay, Venue, WeeklyTime, spoken
from schedule.joint.selectors import given_together_of
from schedule.weeks.planning.class_days import ClassDays, load_class_days
from schedule.weeks.planning.others.elsewhere import (
    IN_FORCE,
    Elsewhere,
    StudentsElsewhere,
    Use,
    by_class,
    by_student,
    held_by_others,
    of_students,
    spans_in_use,
)
from schedule.weeks.planning.others.joint import Joint
from schedule.weeks.planning.others.under_way import drafts_under_way
from travel.places.models import Building, Space

ASK_ABOUT = {
    StudentHold.Reason.LUNCH: "the school's office, about lunch",
    StudentHold.Reason.PT: "the physical therapist",
    StudentHold.Reason.OT: "the occupational therapist",
    StudentHold.Reason.SPEECH: "the speech therapist",
}


@dataclass(frozen=True, slots=True)
class HoldRow:
    """A hold of a student, between two dates if it has any."""

    slot: WeeklyTime
    reason: str
    ask: str
    first: dt.date | None
    last: dt.date | None


@dataclass(frozen=True, slots=True)
class Follow:
    """How a week goes by what others hold of joint services.

    ``on``: it is planned by them, but for the lines ``apart``, for which that left no place. ``held``: which line
    the week in force holds when.
    """

    on: bool = False
    apart: frozenset[int] = frozenset()
    held: frozenset[tuple[int, dt.date, int]] = frozenset()


@dataclass(frozen=True, slots=True)
class Sources:
    """Everything that decides where a session could begin in one week.

    ``said``: what happened on its dates or is known to be going to; ``least``: of fewer minutes nothing is held.
    """

    calendars: Mapping[int, BuildingCalendar]
    contract: Mapping[dt.date, Span]
    spaces: Mapping[int, tuple[Space, ...]]
    free_times: Mapping[int, tuple[WeeklyTime, ...]]
    uses: Mapping[tuple[int, dt.date], tuple[Use, ...]]
    meetings: Mapping[int, tuple[tuple[WeeklyTime, str | None], ...]]
    holds: Mapping[int, tuple[HoldRow, ...]]
    elsewhere: StudentsElsewhere
    classes_elsewhere: Mapping[int, tuple[Elsewhere, ...]] = field(default_factory=dict)
    teacher: int = 0
    said: tuple[Said, ...] = ()
    least: int = 1
    class_days: ClassDays = field(default_factory=ClassDays)
    aides: AidesNeeded = field(default_factory=AidesNeeded)
    joint: Joint = field(default_factory=Joint)
    follow: Follow = field(default_factory=Follow)

    def without(self, other: Elsewhere) -> "Sources":
        """As if another teacher's session weren't in anybody's way."""
        return replace(
            self,
            elsewhere={key: tuple(one for one in held if one != other) for key, held in self.elsewhere.items()},
            classes_elsewhere={
                key: tuple(one for one in held if one != other) for key, held in self.classes_elsewhere.items()
            },
        )

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """The dates being planned."""
        return tuple(self.contract)

    def facts(self, building: int, date: dt.date) -> DayFacts:
        """What a date is in a building."""
        return self.calendars[building].facts(date)

    def space_days(
        self, spaces: Sequence[Space], facts: DayFacts, own: SchoolClass | None, ask: str
    ) -> tuple[SpaceDay, ...]:
        """Spaces on a date, best first; those that aren't there that day only where no other is.

        ``own``: the class whose own period in a space is in no session's way.
        """
        there = [space for space in spaces if not space.why_not_on(facts.date)] or spaces
        return tuple(self._space_day(space, facts, own.pk if own else None, ask) for space in there)

    def _space_day(self, space: Space, facts: DayFacts, home: int | None, ask: str) -> SpaceDay:
        uses = self.uses.get((space.pk, facts.date), ())
        users = tuple((use.span, use.who) for use in uses if use.who and (not home or use.school_class != home))
        slots = self.free_times.get(space.pk)
        free = None if slots is None else tuple(span for slot in slots if (span := slot.span_on(facts)) is not None)
        used = spans_in_use(uses, home)
        return SpaceDay(space.name, ask, space.classes_that_fit, free, used, users, space.why_not_on(facts.date))

    def venue(self, space: Space, way: int, date: dt.date, grades: Collection[str]) -> Venue:
        """The building of a space to which students of these grades come from another one, on a date."""
        calendar, building = self.calendars[space.building_id], space.building
        facts, rings = calendar.facts(date).for_grades(grades), bool(calendar.bells)
        return Venue(building.code, building.name, facts, way, rings=rings, ask=ask_office(building))

    def closed_remarks(self, building: Building, *, needs_bells: bool = True) -> Iterator[str]:
        """What the dates lack in a building, in sentences; bells only where they are needed or it rings at all."""
        for date in self.dates:
            facts = self.facts(building.pk, date)
            if facts.problem and (needs_bells or self.calendars[building.pk].bells):
                yield facts.problem
            elif not facts.open:
                yield f"{building.name} has no students on {date:%A} ({facts.reason})."

    def class_spans(self, school_class: int, facts: DayFacts) -> tuple[ClassSpan, ...]:
        """The own periods of a class on a date."""
        found = ((slot.span_on(facts), space) for slot, space in self.meetings.get(school_class, ()))
        return tuple(ClassSpan(span, space) for span, space in found if span is not None)

    def held_with(
        self,
        school_class: SchoolClass | None,
        students: tuple[StudentDay, ...],
        date: dt.date,
        *,
        pushed_in: bool = False,
    ) -> tuple[StudentDay, ...]:
        """The students of a session with a class, or in it: where another teacher has the class, so are they.

        Two who push in come to the class where it is.
        """
        if school_class is None:
            return students
        others = (one for one in self.classes_elsewhere.get(school_class.pk, ()) if one.date == date)
        holds = tuple(
            Hold(one.span, Bar("class_elsewhere", one.words(school_class.name), one.teacher))
            for one in others
            if not (pushed_in and one.pushed_in)
        )
        return (replace(students[0], holds=students[0].holds + holds), *students[1:]) if holds else students

    def student_day(self, student: Student, place: Enrollment, facts: DayFacts) -> StudentDay:
        """A student on a date, with the times when the student can't be taken."""
        holds: list[Hold] = []
        for row in self.holds.get(student.pk, ()):
            inside = (row.first is None or row.first <= facts.date) and (row.last is None or facts.date <= row.last)
            span = row.slot.span_on(facts) if inside else None
            if span is not None:
                text = f"{student.marked_code} can't be taken {spoken(span)} ({row.reason.lower()})"
                holds.append(Hold(span, Bar("student_held", text, row.ask)))
        holds += [
            Hold(one.away, Bar("student_elsewhere", one.words(student.marked_code), one.teacher))
            for one in self.elsewhere.get(student.pk, ())
            if one.date == facts.date
        ]
        holds += self.aides.away(student.pk, place.home_class_id, facts)
        holds += self.class_days.away(place.home_class_id, facts)
        lunch = self.class_days.lunch(place.home_class_id, facts)
        return StudentDay(student.marked_code, place.grade, tuple(holds), lunch)


def ask_office(building: Building) -> str:
    """Whom to ask about a building's spaces and bells."""
    contact = building.office_contact or "the office"
    phone = f" ({building.office_phone})" if building.office_phone else ""
    return f"{contact} of {building.name}{phone}"


def slot_of(row: TimeSlotRow | StudentHold) -> WeeklyTime:
    """A row's days and times as a plain slot."""
    clock = row.start is not None and row.end is not None
    return WeeklyTime(
        row.days,
        row.period,
        minutes_of(row.start) if clock and row.start else None,
        minutes_of(row.end) if clock and row.end else None,
    )


def load_sources(
    *,
    teacher: Person,
    district: District,
    calendars: Mapping[int, BuildingCalendar],
    contract: Mapping[dt.date, Span],
    students: Sequence[Student],
    together: Collection[int] = (),
    follow: Follow | None = None,
) -> Sources:
    """Load a week's sources for a teacher's students in the buildings of ``calendars``.

    Weeks in force of the teachers in ``together`` are left out. ``follow``: which joint sessions the week goes by.
    """
    spaces: dict[int, list[Space]] = defaultdict(list)
    for space in Space.objects.filter(building__in=calendars):
        spaces[space.building_id].append(space)
    free: dict[int, list[WeeklyTime]] = defaultdict(list)
    for row in SpaceFreeTime.objects.filter(space__building__in=calendars):
        free[row.space_id].append(slot_of(row))
    meetings = list(ClassMeeting.objects.filter(school_class__building__in=calendars).select_related("space"))
    classes = dict(SchoolClass.objects.filter(building__in=calendars).values_list("pk", "building_id"))
    there = of_students([student.pk for student in students]) | Q(session__building__in=calendars)
    others = IN_FORCE & ~Q(session__week__teacher__in=together)
    held = held_by_others(teacher, there, min(contract), max(contract), others)
    return Sources(
        calendars=calendars,
        contract=contract,
        spaces={key: tuple(rows) for key, rows in spaces.items()},
        free_times={key: tuple(rows) for key, rows in free.items()},
        uses=_uses(held, calendars, contract, meetings, classes),
        meetings=_meetings(meetings),
        holds=_holds(students, min(contract)),
        elsewhere=by_student(held),
        classes_elsewhere=by_class(held),
        teacher=teacher.pk,
        said=said_between(district.pk, min(contract), max(contract), [teacher.pk]),
        least=settings_of(district, max(contract)).least_minutes,
        class_days=load_class_days(list(calendars)),
        aides=aides_needed([student.pk for student in students], list(calendars)),
        joint=_joint(teacher, [student.pk for student in students], contract, held, together),
        follow=follow or Follow(),
    )


def _joint(
    teacher: Person,
    students: Collection[int],
    dates: Collection[dt.date],
    held: Sequence[Elsewhere],
    together: Collection[int],
) -> Joint:
    """What is given together in the week; of who has no week in force, by the draft that they are at work on."""
    first, last = min(dates), max(dates)
    agreed = given_together_of(students, first, last)
    if not agreed:
        return Joint()
    known = frozenset(service for one in held for service in one.services)
    open_ = set(agreed) - known
    mondays = {date - dt.timedelta(days=date.weekday()) for date in dates}
    drafts = drafts_under_way(teacher, mondays) if open_ else []
    theirs = Q(service_line__service__in=open_) & ~Q(session__week__teacher__in=together)
    found = held_by_others(teacher, theirs, first, last, Q(session__week__in=drafts)) if drafts else ()
    return Joint(agreed, (*(one for one in held if not one.services.isdisjoint(agreed)), *found))


def _meetings(rows: Iterable[ClassMeeting]) -> dict[int, tuple[tuple[WeeklyTime, str | None], ...]]:
    found: dict[int, list[tuple[WeeklyTime, str | None]]] = defaultdict(list)
    for row in rows:
        found[row.school_class_id].append((slot_of(row), row.space.name if row.space else None))
    return {key: tuple(slots) for key, slots in found.items()}


def _uses(
    held: Iterable[Elsewhere],
    calendars: Mapping[int, BuildingCalendar],
    contract: Mapping[dt.date, Span],
    meetings: Sequence[ClassMeeting],
    classes: Mapping[int, int],
) -> dict[tuple[int, dt.date], tuple[Use, ...]]:
    """Classes in their own periods, and the sessions of other teachers' published weeks."""
    found: dict[tuple[int, dt.date], list[Use]] = defaultdict(list)
    for date in contract:
        for row in meetings:
            span = slot_of(row).span_on(calendars[classes[row.school_class_id]].facts(date))
            if row.space_id is not None and span is not None:
                found[row.space_id, date].append(Use(span, row.school_class_id))
    for one in held:
        if one.space is not None:
            found[one.space, one.date].append(Use(one.span, one.school_class, one.teacher, one.students))
    return {key: tuple(uses) for key, uses in found.items()}


def _holds(students: Sequence[Student], day: dt.date) -> dict[int, tuple[HoldRow, ...]]:
    teachers = {student.pk: _class_teacher(student, day) for student in students}
    found: dict[int, list[HoldRow]] = defaultdict(list)
    for row in StudentHold.objects.filter(student__in=[student.pk for student in students]):
        ask = ASK_ABOUT.get(StudentHold.Reason(row.reason), teachers[row.student_id])
        found[row.student_id].append(
            HoldRow(slot_of(row), row.get_reason_display(), ask, row.first_day, row.last_day)
        )
    return {key: tuple(rows) for key, rows in found.items()}


def _class_teacher(student: Student, day: dt.date) -> str:
    home = enrollment_nearest(student, day).home_class
    if home is None:
        return "the class teacher"
    return f"{home.class_teacher or 'the teacher'} of {home.name}"
