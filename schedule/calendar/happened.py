"""What was said to have happened does to one planned session: it falls out, shrinks, or goes on otherwise.

Pure. Times are minutes after local midnight. What closes schools or changes their hours for everybody is in the
calendar (`closed_days`, `calendars`); here is the rest, and what closes them for some grades only.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

MIDNIGHT = 24 * 60


class HappeningKind(StrEnum):
    """What can happen to a day."""

    AWAY = "away"
    LATE = "late"
    CLOSED = "closed"
    DELAYED_OPENING = "delayed_opening"
    EARLY_DISMISSAL = "early_dismissal"
    SPACE_TAKEN = "space_taken"
    CLASS_AWAY = "class_away"
    STUDENT_ABSENT = "student_absent"
    AIDE_MISSING = "aide_missing"


LONGEST = 60
"""Days that one thing can hold. Our choice, no source: what is longer is planned, in the calendar."""
OF_TEACHER = frozenset({HappeningKind.AWAY, HappeningKind.LATE})
OF_SCHOOLS = frozenset({HappeningKind.CLOSED, HappeningKind.DELAYED_OPENING, HappeningKind.EARLY_DISMISSAL})


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that holds from a first to a last date, between two times of each (the whole day by default).

    `buildings` is empty for every school, `grades` for every grade.
    """

    pk: int
    kind: HappeningKind
    first: dt.date
    last: dt.date
    start: int = 0
    end: int = MIDNIGHT
    teacher: int | None = None
    buildings: frozenset[int] = frozenset()
    grades: frozenset[str] = frozenset()
    space: int | None = None
    school_class: int | None = None
    student: int | None = None
    goes_on: bool = False

    def holds_on(self, date: dt.date) -> bool:
        """Whether it is about a date."""
        return self.first <= date <= self.last


@dataclass(frozen=True, slots=True)
class Planned:
    """A session as it was planned. `students` with the grade of each on its date.

    `students_from`: their own school, where it is held in another building: whose grades are out is asked there.
    """

    date: dt.date
    start: int
    end: int
    building: int
    teacher: int
    space: int | None = None
    school_class: int | None = None
    students: frozenset[tuple[int, str]] = frozenset()
    students_from: int | None = None


@dataclass(frozen=True, slots=True)
class Became:
    """What a session has become. `off`: what it falls out by; `start` and `end`: what is left of it otherwise.

    `cut` is what took the rest; `without`: students who are absent; `otherwise`: what it is held in spite of.
    """

    start: int
    end: int
    off: HappeningKind | None = None
    cut: HappeningKind | None = None
    without: frozenset[int] = frozenset()
    otherwise: frozenset[HappeningKind] = frozenset()

    @property
    def by(self) -> HappeningKind | None:
        """What took all of it, or some."""
        return self.off or self.cut


def concerns(said: Said, planned: Planned) -> bool:
    """Whether something that was said is about a session, and about any minute of it."""
    meets = said.holds_on(planned.date) and said.start < planned.end and planned.start < said.end
    there = not said.buildings or bool(said.buildings & _where(said, planned))
    return meets and there and _is_about(said, planned)


def _where(said: Said, planned: Planned) -> set[int | None]:
    if said.kind in OF_SCHOOLS:
        return {planned.students_from or planned.building}
    return {planned.building, planned.students_from}


def _is_about(said: Said, planned: Planned) -> bool:
    match said.kind:
        case HappeningKind.SPACE_TAKEN:
            return planned.space == said.space
        case HappeningKind.CLASS_AWAY:
            return planned.school_class == said.school_class
        case HappeningKind.STUDENT_ABSENT:
            return any(student == said.student for student, _ in planned.students)
        case HappeningKind.AWAY | HappeningKind.LATE | HappeningKind.AIDE_MISSING:
            return planned.teacher == said.teacher
        case _:
            return any(grade in said.grades for _, grade in planned.students)


def become(planned: Planned, every: Iterable[Said], least: int) -> Became:
    """What a session has become by all that was said; under `least` minutes none of it is worth holding."""
    touching = sorted((one for one in every if concerns(one, planned)), key=lambda one: one.pk)
    without = _without(touching, planned)
    otherwise = frozenset(one.kind for one in touching if one.goes_on)
    if without and without == {student for student, _ in planned.students}:
        return Became(planned.start, planned.end, _kind_of_absence(touching), without=without, otherwise=otherwise)
    whole = Became(planned.start, planned.end, without=without, otherwise=otherwise)
    for one in filter(_takes_minutes, touching):
        whole = _cut(whole, one, least)
    return whole


def _takes_minutes(said: Said) -> bool:
    return not said.goes_on and not _takes_students(said)


def _takes_students(said: Said) -> bool:
    """Whether it takes single students out of a session, and not its minutes."""
    return said.kind is HappeningKind.STUDENT_ABSENT or said.kind in OF_SCHOOLS


def _without(touching: Iterable[Said], planned: Planned) -> frozenset[int]:
    taking = [one for one in touching if _takes_students(one) and not one.goes_on]
    return frozenset(
        student
        for student, grade in planned.students
        for one in taking
        if one.student == student or grade in one.grades
    )


def _kind_of_absence(touching: Iterable[Said]) -> HappeningKind:
    return next(one.kind for one in touching if _takes_students(one))


def _cut(was: Became, said: Said, least: int) -> Became:
    """What is left of a session before or after what takes some of its minutes, the longer of both."""
    before, after = (was.start, min(was.end, said.start)), (max(was.start, said.end), was.end)
    start, end = max(before, after, key=lambda span: span[1] - span[0])
    if was.off is not None or end - start == was.end - was.start:
        return was
    if end - start < least:
        return Became(was.start, was.end, said.kind, without=was.without, otherwise=was.otherwise)
    return Became(start, end, None, said.kind, was.without, was.otherwise)


def joined(spans: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Stretches of a day in order, those that meet or overlap as one."""
    found: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)
