"""Lines of the coming year: a student, a class, a building with all that is in it."""

import datetime as dt
from dataclasses import dataclass

from caseload.plans.models import SchoolClass, Student
from schedule.next_year.models import NextYearStudent
from schedule.next_year.rolling import Coming, EveStay, Lacks
from schedule.next_year.words import OF_CLASSES, OF_STUDENTS, SHORT
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class StudentLine:
    """A student on the eve and from the first day on. `entered`: by dated records already, the draft aside."""

    student: Student
    standing: EveStay
    coming: Coming
    said: NextYearStudent | None
    entered: bool
    plan_ends: dt.date | None
    lacks: tuple[Lacks, ...]
    now_words: str
    coming_words: str

    @property
    def badges(self) -> list[str]:
        """What is missing, in two or three words each."""
        return [SHORT[one] for one in self.lacks]


@dataclass(frozen=True, slots=True)
class ClassLine:
    """A class in the coming year, with how many are in it and what is missing: ``teacher``, ``period``."""

    school_class: SchoolClass
    goes_on: bool
    grades: str
    class_teacher: str
    students: int
    lacks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BuildingLine:
    """A building in the coming year. `bells_lack`: ``none``, ``unsaid`` or empty.

    `bells_stay`: it is said; `bells_new`: other periods of its regular bells are entered for that year.
    """

    building: Building
    highest: str
    next_building: Building | None
    closes: bool
    bells_stay: bool
    bells_new: bool
    bells_lack: str
    students: tuple[StudentLine, ...]
    coming: tuple[StudentLine, ...]
    classes: tuple[ClassLine, ...]

    @property
    def lacking(self) -> tuple[StudentLine, ...]:
        """Students of whom something is missing: where they will be, or where they are while that isn't known."""
        here = [one for one in self.students if one.coming.building_id is None and not one.coming.leaves]
        return tuple(one for one in [*here, *self.coming] if one.lacks)

    @property
    def missing_students(self) -> list[tuple[str, str, list[StudentLine]]]:
        """What is missing of students: which, in words, of whom."""
        kinds = ((kind, [one for one in self.lacking if kind in one.lacks]) for kind in Lacks)
        return [(kind.value, OF_STUDENTS[kind], found) for kind, found in kinds if found]

    @property
    def missing_classes(self) -> list[tuple[str, str, list[ClassLine]]]:
        """The same of classes."""
        kinds = ((kind, [one for one in self.classes if kind in one.lacks]) for kind in OF_CLASSES)
        return [(kind, OF_CLASSES[kind], found) for kind, found in kinds if found]

    @property
    def leaving(self) -> tuple[StudentLine, ...]:
        """Who is in no building of the district from the first day on."""
        return tuple(one for one in self.students if one.coming.leaves)

    @property
    def count_missing(self) -> int:
        """How many things are missing in it."""
        return (
            sum(len(one.lacks) for one in self.lacking)
            + sum(len(one.lacks) for one in self.classes)
            + bool(self.bells_lack)
        )
