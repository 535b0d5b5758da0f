"""What becomes of a student in the coming year, by the rule and by what is said beside it. Pure.

The rule: a grade up, in the same building; who is above the building's highest grade goes to the building that is
named for it. Nobody leaves by a rule: from grade 12 on it has to be said.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from caseload.plans.grades import GRADES

A_YEAR = dt.timedelta(weeks=52)
"""From a day to the same weekday a year later."""

LAST_GRADE = "12"
HIGHEST = {"prek": "PK", "elementary": "5", "middle": "8", "high": GRADES[-1]}
"""Up to which grade a building of a level goes where nothing is said. Common practice in the United States, no
source; a coordinator says otherwise for a building."""


class Lacks(StrEnum):
    """What is missing of a student for the coming year."""

    LEAVES = "leaves"
    BUILDING = "building"
    CLASS = "class"
    SUMMER = "summer"
    PLAN = "plan"
    TEACHER = "teacher"


@dataclass(frozen=True, slots=True)
class EveStay:
    """Where a student is on the eve of the year."""

    building_id: int
    grade: str
    class_id: int | None = None


@dataclass(frozen=True, slots=True)
class StudentSaid:
    """What is said beside the rule. `choice`: empty, ``goes_on``, ``again`` or ``leaves``."""

    choice: str = ""
    building_id: int | None = None
    class_id: int | None = None


@dataclass(frozen=True, slots=True)
class School:
    """A building's highest grade, and where those above it go; empty and None where it isn't known.

    `closes`: nobody stays in it, whatever the grade.
    """

    highest: str = ""
    next_id: int | None = None
    closes: bool = False


@dataclass(frozen=True, slots=True)
class ComingClass:
    """A class in the coming year: where, whether it goes on, and for which grades (none: any)."""

    building_id: int
    goes_on: bool = True
    grades: frozenset[str] = frozenset()

    def takes(self, building_id: int | None, grade: str) -> bool:
        """Whether a student of a grade at a building can be in it."""
        return self.goes_on and building_id == self.building_id and (not self.grades or grade in self.grades)


@dataclass(frozen=True, slots=True)
class Coming:
    """Where a student is from the first day on; `building_id` None where that isn't known yet."""

    grade: str
    building_id: int | None
    class_id: int | None = None
    leaves: bool = False
    lacks: tuple[Lacks, ...] = ()


def grade_after(grade: str) -> str:
    """The next grade; the last one goes on."""
    place = GRADES.index(grade) + 1
    return GRADES[min(place, len(GRADES) - 1)]


def is_above(grade: str, highest: str) -> bool:
    """Whether a grade comes after a building's highest; never where that isn't known."""
    return bool(highest) and GRADES.index(grade) > GRADES.index(highest)


def highest_of(level: str, grades: Iterable[str]) -> str:
    """A building's highest grade where nothing is said: its level's, or a higher one that is taught there now."""
    usual = HIGHEST.get(level, "")
    if not usual:
        return ""
    return max([usual, *grades], key=GRADES.index)


def rolled(
    now: EveStay, wish: StudentSaid, schools: Mapping[int, School], rooms: Mapping[int, ComingClass]
) -> Coming:
    """What becomes of one student."""
    if wish.choice == "leaves":
        return Coming(now.grade, None, leaves=True)
    if not wish.choice and is_above(grade_after(now.grade), LAST_GRADE):
        return Coming(now.grade, now.building_id, now.class_id, lacks=(Lacks.LEAVES,))
    grade = now.grade if wish.choice == "again" else grade_after(now.grade)
    building = wish.building_id or _building(now, grade, schools.get(now.building_id, School()))
    if building is None:
        return Coming(grade, None, lacks=(Lacks.BUILDING,))
    return _with_class(now, wish, Coming(grade, building), rooms)


def _building(now: EveStay, grade: str, school: School) -> int | None:
    goes = school.closes or (grade != now.grade and is_above(grade, school.highest))
    return school.next_id if goes else now.building_id


def _with_class(now: EveStay, wish: StudentSaid, coming: Coming, rooms: Mapping[int, ComingClass]) -> Coming:
    """The class that is said, or the one of this year where it goes on for the grade; who had one needs one."""
    wanted = wish.class_id or now.class_id
    if wanted is None:
        return coming
    room = rooms.get(wanted)
    if room is not None and room.takes(coming.building_id, coming.grade):
        return Coming(coming.grade, coming.building_id, wanted)
    return Coming(coming.grade, coming.building_id, lacks=(Lacks.CLASS,))


def days_later(day: dt.date) -> dt.date:
    """The same weekday a year later."""
    return day + A_YEAR
