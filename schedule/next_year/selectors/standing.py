"""What the coming year would be as it is said now: student by student, class by class, building by building."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Max

from accounts.models import Person, held_from
from caseload.plans.enrollment.selectors import caseload_teachers_on, students_anywhere
from caseload.plans.enrollments import Stay, stay_on
from caseload.plans.grades import read_grades
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, stays_of
from schedule.calendar.models import BellPeriod, BellSchedule, ClassMeeting
from schedule.next_year.models import (
    NextYear,
    NextYearBuilding,
    NextYearClass,
    NextYearDay,
    NextYearStudent,
)
from schedule.next_year.rolling import (
    Coming,
    ComingClass,
    EveStay,
    Lacks,
    School,
    StudentSaid,
    highest_of,
    rolled,
)
from schedule.next_year.selectors.lines import BuildingLine, ClassLine, StudentLine
from schedule.next_year.words import coming_words, standing_words
from travel.places.models import Building


class YearStanding:
    """A next year as it is said now, read once. About a dozen queries, whatever the number of students."""

    def __init__(self, viewer: Person, row: NextYear) -> None:
        self.row = row
        self._viewer = viewer
        self.buildings = {one.pk: one for one in Building.objects.visible_to(viewer)}
        classes = SchoolClass.objects.visible_to(viewer).select_related("building").order_by("building", "name")
        self.classes = {one.pk: one for one in classes if one.building_id in self.buildings}
        self._said_of = {one.building_id: one for one in row.buildings.select_related("next_building")}
        self._classes_said = {one.school_class_id: one for one in row.classes.all()}
        self._wishes = {one.student_id: one for one in row.students.all()}

    def closes(self, building: Building) -> bool:
        """Whether a building is closed for good by the first day."""
        return building.last_day is not None and building.last_day < self.row.first_day

    @property
    def open_schools(self) -> list[Building]:
        """Buildings in which students can be from the first day on, by name."""
        rows = (one for one in self.buildings.values() if one.level != Building.Level.BASE and not self.closes(one))
        return sorted(rows, key=lambda one: one.name)

    def said_of(self, building: Building) -> NextYearBuilding | None:
        """What is said of a building, if anything."""
        return self._said_of.get(building.pk)

    def rooms_at(self, building_id: int | None) -> list[SchoolClass]:
        """Classes of a building that go on."""
        return [
            one for pk, one in self.classes.items() if one.building_id == building_id and self._rooms[pk].goes_on
        ]

    @cached_property
    def days_asked(self) -> int:
        """How many special days of this year nobody has answered."""
        return self.row.days.filter(answer=NextYearDay.Answer.ASKED).count()

    @cached_property
    def students(self) -> tuple[StudentLine, ...]:
        """Everyone who is in a school on the eve, by name."""
        eve, first = self.row.eve, self.row.first_day
        rows = Student.objects.visible_to(self._viewer).filter(students_anywhere(eve)).distinct()
        rows = rows.select_related("caseload_teacher").prefetch_related("enrollments")
        everyone = list(rows.order_by("last_name", "first_name", "pk"))
        ids = [one.pk for one in everyone]
        at = {one.pk: held for one in everyone if (held := _at_school(one, eve)) is not None}
        schools = self._schools(stay for stay, _ in at.values())
        ends = _plan_ends(ids)
        teaching, with_whom = _teaching(self.row), caseload_teachers_on(ids, first)
        found = []
        for one in everyone:
            if one.pk in at:
                stay, stays = at[one.pk]
                teacher = with_whom.get(one.pk, one.caseload_teacher_id)
                known = _Known(ends.get(one.pk), teacher in teaching)
                found.append(self._student(one, stay, _entered(stays, first), schools, known))
        return tuple(found)

    def _student(
        self, student: Student, stay: Stay, entered: Coming | None, schools: Mapping[int, School], known: "_Known"
    ) -> StudentLine:
        """What becomes of one student, in words as well."""
        now = EveStay(stay.building_id, stay.grade, stay.home_class_id)
        said = self._wishes.get(student.pk)
        coming = entered or rolled(now, _wish(said), schools, self._rooms)
        building = str(self.buildings.get(coming.building_id or 0, ""))
        return StudentLine(
            student=student,
            standing=now,
            coming=coming,
            said=said,
            entered=entered is not None,
            plan_ends=known.plan_ends,
            lacks=_lacks(coming, known, self.row),
            now_words=standing_words(now, self._room_named(now.class_id)),
            coming_words=coming_words(coming, now, building, self._room_named(coming.class_id)),
        )

    def _room_named(self, pk: int | None) -> str:
        return str(self.classes[pk]) if pk in self.classes else ""

    def _schools(self, stays: Iterable[Stay]) -> dict[int, School]:
        """Each building's highest grade, by what is said or by who is in it, and its next building."""
        grades: dict[int, set[str]] = {}
        for stay in stays:
            grades.setdefault(stay.building_id, set()).add(stay.grade)
        found = {}
        for pk, building in self.buildings.items():
            said = self._said_of.get(pk)
            highest = said.highest_grade if said is not None else ""
            found[pk] = School(
                highest or highest_of(building.level, grades.get(pk, ())),
                said.next_building_id if said is not None else None,
                closes=self.closes(building),
            )
        self._schools_found = found
        return found

    @cached_property
    def _rooms(self) -> dict[int, ComingClass]:
        found = {}
        for pk, one in self.classes.items():
            said = self._classes_said.get(pk)
            grades = said.grades if said is not None else one.grades
            named = read_grades(grades) if grades else frozenset()
            found[pk] = ComingClass(one.building_id, said is None or said.goes_on, named)
        return found

    @cached_property
    def by_building(self) -> tuple[BuildingLine, ...]:
        """Every school by name; one that closes, and an office, only while students are in it."""
        students = self.students
        with_bells, with_new = _with_bells(self.buildings), _with_new_bells(self.buildings, self.row)
        classes = self._class_lines(students)
        used = {one.standing.building_id for one in students} | {one.coming.building_id for one in students}
        return tuple(
            self._building(one, students, classes, bells=one.pk in with_bells, new_bells=one.pk in with_new)
            for one in sorted(self.buildings.values(), key=lambda one: one.name)
            if one.pk in used or not (self.closes(one) or one.level == Building.Level.BASE)
        )

    def _building(
        self,
        building: Building,
        students: Iterable[StudentLine],
        classes: Iterable[ClassLine],
        *,
        bells: bool,
        new_bells: bool,
    ) -> BuildingLine:
        said = self._said_of.get(building.pk) or NextYearBuilding(building=building)
        closes, everyone = self.closes(building), tuple(students)
        return BuildingLine(
            building=building,
            highest=self._schools_found[building.pk].highest,
            next_building=said.next_building,
            closes=closes,
            bells_stay=said.bells_stay or closes,
            bells_new=new_bells,
            bells_lack=_bells_lack([said.bells_stay, new_bells, closes], bells=bells or closes),
            students=tuple(one for one in everyone if one.standing.building_id == building.pk),
            coming=tuple(one for one in everyone if one.coming.building_id == building.pk),
            classes=tuple(one for one in classes if one.school_class.building_id == building.pk),
        )

    def _class_lines(self, students: Iterable[StudentLine]) -> list[ClassLine]:
        counts = Counter(one.coming.class_id for one in students if one.coming.class_id is not None)
        met = set(ClassMeeting.objects.filter(school_class__in=self.classes).values_list("school_class", flat=True))
        lines = ServiceLine.objects.filter(pushed_into__in=self.classes, end__gte=self.row.first_day)
        used = {*counts, *lines.values_list("pushed_into", flat=True)}
        return [self._class_line(one, counts[pk], pk in used, pk in met) for pk, one in self.classes.items()]

    def _class_line(self, one: SchoolClass, students: int, used: bool, met: bool) -> ClassLine:
        said: NextYearClass | None = self._classes_said.get(one.pk)
        wanted = said or NextYearClass(school_class=one, grades=one.grades, class_teacher=one.class_teacher)
        lacks = [("teacher", not wanted.class_teacher), ("period", not met)] if used and wanted.goes_on else []
        return ClassLine(
            school_class=one,
            goes_on=wanted.goes_on,
            grades=wanted.grades,
            class_teacher=wanted.class_teacher,
            students=students,
            lacks=tuple(name for name, missing in lacks if missing),
        )

    @property
    def periods_lack(self) -> bool:
        """Whether this year has marking periods and the coming one none."""
        made_from = self.row.made_from
        had = made_from is not None and made_from.marking_periods.exists()
        return had and not self.row.periods.exists()

    @property
    def count_missing(self) -> int:
        """How many things are missing in all."""
        return sum(one.count_missing for one in self.by_building) + bool(self.days_asked) + self.periods_lack


def _at_school(student: Student, eve: dt.date) -> tuple[Stay, tuple[Stay, ...]] | None:
    """The school of a student on a day, programs aside, with every stay at a school."""
    stays = tuple(one for one in stays_of(student) if not one.program)
    stay = stay_on(stays, eve)
    return None if stay is None else (stay, stays)


def _entered(stays: Iterable[Stay], first: dt.date) -> Coming | None:
    """Where dated records have the student from the first day on; None where they say nothing of it."""
    every = tuple(stays)
    begun = [one for one in every if one.begins >= first]
    if begun:
        stay = min(begun, key=lambda one: one.begins)
        return Coming(stay.grade, stay.building_id, stay.home_class_id)
    if stay_on(every, first) is None:
        last = max(every, key=lambda one: one.ends)
        return Coming(last.grade, None, leaves=True)
    return None


def _wish(said: NextYearStudent | None) -> StudentSaid:
    return StudentSaid() if said is None else StudentSaid(said.choice, said.building_id, said.home_class_id)


def _plan_ends(students: Collection[int]) -> Mapping[int, dt.date]:
    rows = Plan.objects.filter(student__in=students).order_by().values_list("student").annotate(Max("end"))
    return dict(rows)


def _teaching(row: NextYear) -> set[int]:
    """Who works as a teacher on the first day or later."""
    rows = Person.objects.filter(held_from(row.first_day, Person.Role.TEACHER), district=row.district_id)
    return set(rows.filter(is_active=True).values_list("pk", flat=True))


@dataclass(frozen=True, slots=True)
class _Known:
    """When a student's last plan ends, and whether somebody who teaches then has the student."""

    plan_ends: dt.date | None
    has_teacher: bool


def _lacks(coming: Coming, known: _Known, row: NextYear) -> tuple[Lacks, ...]:
    if coming.leaves:
        return ()
    plan = _plan_lacks(known.plan_ends, row)
    return (*coming.lacks, *plan, *(() if known.has_teacher else (Lacks.TEACHER,)))


def _plan_lacks(ends: dt.date | None, row: NextYear) -> tuple[Lacks, ...]:
    """A plan that ends between the two years is one to renew; one that ended before, or none, is another matter."""
    if ends is not None and ends >= row.first_day:
        return ()
    year = row.made_from
    summer = ends is not None and year is not None and ends >= year.last_day
    return (Lacks.SUMMER,) if summer else (Lacks.PLAN,)


def _bells_lack(answers: Iterable[bool], *, bells: bool) -> str:
    """`answers`: what makes it known how bells ring then, any of which will do."""
    if not bells:
        return "none"
    return "" if any(answers) else "unsaid"


def _with_bells(buildings: Collection[int]) -> set[int]:
    """Buildings with regular bells that have a period."""
    regular = BellSchedule.objects.filter(kind=BellSchedule.Kind.REGULAR, periods__isnull=False)
    return set(regular.filter(building__in=buildings).values_list("building", flat=True))


def _with_new_bells(buildings: Collection[int], row: NextYear) -> set[int]:
    """Buildings whose regular bells ring other periods from a day after this year's last one on."""
    year = row.made_from
    since = year.last_day if year is not None else row.eve
    periods = BellPeriod.objects.filter(schedule__kind=BellSchedule.Kind.REGULAR, schedule__building__in=buildings)
    coming = periods.filter(first_day__gt=since, first_day__lte=row.last_day)
    return set(coming.values_list("schedule__building", flat=True))
