"""Where a teacher's sessions meet those of others: a student or a class in two places, a space that is too full."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Q

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import SchoolClass, ServiceLine, Student
from caseload.plans.names import student_names
from schedule.calendar.models import ClassMeeting
from schedule.calendar.selectors.school_days import load_calendars, school_year_of
from schedule.calendar.spans import Span, most_at_once, overlap
from schedule.calendar.starts import spoken
from schedule.calendar.words import listed
from schedule.joint.agreed import GivenTogether
from schedule.joint.selectors import given_together_of
from schedule.weeks.planning.others.elsewhere import (
    IN_FORCE,
    Elsewhere,
    Use,
    held_by_others,
    of_students,
    spans_in_use,
)
from schedule.weeks.planning.others.joint import is_agreed, is_beside
from schedule.weeks.planning.sources import slot_of
from schedule.weeks.versions.content import SessionContent
from travel.places.models import Space

SOMEBODY = "a student of yours"


class ClashKind(StrEnum):
    """What would be had twice."""

    STUDENT = "student"
    CLASS = "class"
    SPACE = "space"


@dataclass(frozen=True, slots=True)
class OthersClash:
    """One session that can't be held beside another teacher's; ``draft``: that one isn't in force yet.

    ``words`` is a sentence for its reader, ``teacher`` the name of the other.
    """

    uid: str
    kind: ClashKind
    date: dt.date
    start: int
    teacher: str
    words: str
    draft: bool = False


def clashes_with_others(
    viewer: Person | None, teacher: Person, sessions: Sequence[SessionContent], weeks: Q = IN_FORCE
) -> list[OthersClash]:
    """What of a teacher's sessions, of one week or several, other teachers' weeks rule out, in order of time.

    Who may not be seen isn't named. Without a viewer students are called by their marked codes, to be kept.
    """
    if not sessions:
        return []
    lines = _lines_of(line for one in sessions for line in one.lines)
    students = {line: student for line, (student, _) in lines.items()}
    concerns = of_students(set(students.values())) | _classes_and_spaces(sessions)
    dates = [one.date for one in sessions]
    held = held_by_others(teacher, concerns, min(dates), max(dates), weeks)
    if not held:
        return []
    agreed = given_together_of(set(students.values()), min(dates), max(dates))
    asked = _Asked(_names(viewer, students.values()), teacher, students, held)
    asked.joint = {line: agreed.get(service, ()) for line, (_, service) in lines.items()}
    ordered = sorted(sessions, key=lambda one: (one.date, one.start))
    found = {(clash.uid, clash.words): clash for one in ordered for clash in asked.clashes(one)}
    return list(found.values())


def _classes_and_spaces(sessions: Iterable[SessionContent]) -> Q:
    """Attendances at what is held with one of these sessions' classes, or in one of their spaces."""
    held = list(sessions)
    classes = {one.school_class for one in held if one.school_class is not None}
    spaces = {one.space for one in held if one.space is not None}
    return Q(session__school_class__in=classes) | Q(session__space__in=spaces)


def ways_out(found: Sequence[OthersClash]) -> str:
    """What can be done about clashes, in a sentence."""
    count = len({one.uid for one in found})
    these = "this session" if count == 1 else f"these {count} sessions"
    whom = listed(sorted({one.teacher for one in found}))
    return f"Plan the week again around it, ask {whom} to move theirs, or publish without {these}."


def _lines_of(lines: Iterable[int]) -> dict[int, tuple[int, int]]:
    """Who must be there and for which service, by line: nobody for a consultation."""
    rows = ServiceLine.objects.filter(pk__in=set(lines), service_type=ServiceLine.Type.DIRECT)
    return {
        pk: (student, service) for pk, student, service in rows.values_list("pk", "plan__student_id", "service")
    }


def _names(viewer: Person | None, students: Iterable[int]) -> Mapping[int, str]:
    if viewer is not None:
        return student_names(viewer).full
    return {one.pk: one.marked_code for one in Student.objects.filter(pk__in=set(students))}


class _Asked:
    """What is known of others, asked session by session."""

    def __init__(
        self, names: Mapping[int, str], teacher: Person, students: Mapping[int, int], held: Sequence[Elsewhere]
    ) -> None:
        self.teacher, self.students = teacher, students
        self.names = names
        ways = ServiceLine.objects.filter(pk__in=students, way_minutes__gt=0)
        self.ways: dict[int, int] = dict(ways.values_list("pk", "way_minutes"))
        self.held: dict[dt.date, list[Elsewhere]] = defaultdict(list)
        for one in held:
            self.held[one.date].append(one)
        spaces = Space.objects.filter(pk__in={one.space for one in held if one.space is not None})
        self.spaces = {space.pk: space for space in spaces.select_related("building__district")}
        classes = SchoolClass.objects.filter(pk__in={one.school_class for one in held if one.school_class})
        self.classes = dict(classes.values_list("pk", "name"))
        self.joint: Mapping[int, Sequence[GivenTogether]] = {}

    def clashes(self, one: SessionContent) -> Iterator[OthersClash]:
        """Each thing that a session would have while another teacher has it."""
        span, gone = (one.start, one.end), self._gone(one)
        every = [other for other in self.held.get(one.date, ()) if not self._is_joint(one, other)]
        others = [other for other in every if other.meets(one.date, span)]
        for other in every:
            if overlap(other.away, gone):
                yield from self._students_met(one, other)
            if other in others:
                yield from self._class_met(one, other)
        yield from self._too_full(one, [other for other in others if other.space == one.space])

    def _gone(self, one: SessionContent) -> Span:
        """From when to when its students are gone: held in another building, with both ways."""
        if one.students_from is None:
            return (one.start, one.end)
        way = max((self.ways.get(line, 0) for line in one.lines), default=0)
        return (one.start - way, one.end + way)

    def _is_joint(self, one: SessionContent, other: Elsewhere) -> bool:
        """Whether it is one session of both teachers, and whoever is in both is given it by both."""
        lines = [line for line in one.lines if self.students.get(line) in other.students]
        beside = is_beside(other, (one.start, one.end), one.building, one.space)
        return beside and bool(lines) and all(is_agreed(self.joint[line], other) for line in lines)

    def _students_met(self, one: SessionContent, other: Elsewhere) -> Iterator[OthersClash]:
        """Students of a session who are with another teacher then, or on the way."""
        mine = dict.fromkeys(self.students[line] for line in one.lines if line in self.students)
        for student in [student for student in mine if student in other.students]:
            yield self._clash(one, ClashKind.STUDENT, other, self.names.get(student, SOMEBODY), "them")

    def _class_met(self, one: SessionContent, other: Elsewhere) -> Iterator[OthersClash]:
        """The class of a session, where it is with another teacher then."""
        if _is_torn(one, other):
            yield self._clash(one, ClashKind.CLASS, other, self.classes[other.school_class or 0], "it")

    def _clash(self, one: SessionContent, kind: ClashKind, other: Elsewhere, who: str, them: str) -> OthersClash:
        words = other.words(who)
        when = f"{one.date:%A}, {date_words(one.date)}"
        draft = " in a draft" if other.draft else ""
        said = (
            f"{words[:1].upper()}{words[1:]}{draft} on {when}; this week has {them} {spoken((one.start, one.end))}."
        )
        return OthersClash(one.uid, kind, one.date, one.start, other.teacher, said, other.draft)

    def _too_full(self, one: SessionContent, there: Sequence[Elsewhere]) -> Iterator[OthersClash]:
        """Pushed in, a teacher comes to a class that is there already."""
        if one.space is None or not there or one.setting == ServiceLine.Setting.PUSH_IN:
            return
        space, span = self.spaces[one.space], (one.start, one.end)
        uses = [Use(other.span, other.school_class, other.teacher, other.students) for other in there]
        if space.classes_that_fit > 1:
            uses += _own_periods(self.teacher, space, one.date)
        if most_at_once(spans_in_use(uses, one.school_class), span) < space.classes_that_fit:
            return
        more = f", and it has room for {space.classes_that_fit} classes" if space.classes_that_fit > 1 else ""
        for other in there:
            when = f"{spoken(other.span)}{' in a draft' if other.draft else ''} on {one.date:%A}"
            said = (
                f"{space.name} at {other.building} is with {other.teacher} {when}, {date_words(one.date)}{more}; "
                f"this week has it {spoken(span)}."
            )
            yield OthersClash(one.uid, ClashKind.SPACE, one.date, one.start, other.teacher, said, other.draft)


def _is_torn(one: SessionContent, other: Elsewhere) -> bool:
    """Whether a class would be with two teachers; two who both push in come to it where it is."""
    both_in = other.pushed_in and one.setting == ServiceLine.Setting.PUSH_IN
    return one.school_class is not None and one.school_class == other.school_class and not both_in


def _own_periods(teacher: Person, space: Space, date: dt.date) -> list[Use]:
    """Classes that have their own period in a space on a date."""
    district = space.building.district
    year = school_year_of(district, date, date)
    facts = load_calendars(district, [space.building], year)[space.building_id].facts(date)
    found: list[Use] = []
    for row in ClassMeeting.objects.filter(space=space):
        span: Span | None = slot_of(row).span_on(facts)
        if span is not None:
            found.append(Use(span, row.school_class_id))
    return found
