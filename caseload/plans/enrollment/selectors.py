"""Reads of enrollments and caseload assignments: many students at once, one query each."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from accounts.models import AuditEntry, District, Person
from accounts.selectors import rows_known
from caseload.plans.enrollments import Stay, teacher_on
from caseload.plans.models import CaseloadAssignment, Enrollment, ServiceLine, Student
from travel.places.models import Building

HAND_OVER, HAND_OVER_UNDONE = "caseload_hand_over", "caseload_hand_over_undo"
SHOWN_AT_MOST = 20


def stays_by_student(students: Iterable[int]) -> Mapping[int, tuple[Stay, ...]]:
    """Where each of these students is, was and will be. One query.

    A student without enrollments is missing: ask `stays_of`, which knows the record.
    """
    found: dict[int, list[Stay]] = defaultdict(list)
    for row in Enrollment.objects.filter(student__in=list(students)).order_by("pk"):
        found[row.student_id].append(row.stay)
    return {student: tuple(stays) for student, stays in found.items()}


def enrollments_known(
    district: District, students: Collection[int], moment: dt.datetime
) -> dict[int, tuple[Enrollment, ...]]:
    """The enrollments of these students as they were at a moment, in order, by student. Three queries."""
    rows = Enrollment.objects.filter(student__in=students)
    known = rows_known(Enrollment, district, rows, moment, restore=True)
    mine = [row for row in known if row.student_id in students]
    buildings = Building.objects.in_bulk({row.building_id for row in mine})
    found: dict[int, list[Enrollment]] = defaultdict(list)
    for row in sorted(mine, key=lambda row: (row.is_program, row.stay.begins, row.pk)):
        if row.building_id in buildings:
            row.building = buildings[row.building_id]
            found[row.student_id].append(row)
    return {student: tuple(several) for student, several in found.items()}


def caseload_teachers_on(students: Iterable[int], day: dt.date) -> dict[int, int]:
    """On whose caseload each of these students is on a date: teachers' ids by the students'. One query."""
    dated: dict[int, list[tuple[dt.date | None, int]]] = defaultdict(list)
    rows = CaseloadAssignment.objects.filter(student__in=list(students))
    for student, first, teacher in rows.values_list("student_id", "first_day", "teacher_id"):
        dated[student].append((first, teacher))
    found = {student: teacher_on(assignments, day) for student, assignments in dated.items()}
    return {student: teacher for student, teacher in found.items() if teacher is not None}


def students_at(building_id: int, first: dt.date, last: dt.date) -> Q:
    """A condition for students: at a building on any day of a stretch, for their school or for a program.

    Without enrollments it is the building of the record.
    """
    rows = enrollments_holding(first, last).filter(building_id=building_id)
    return Q(pk__in=rows.values("student")) | Q(enrollments__isnull=True, building=building_id)


def students_at_buildings(buildings: Collection[int], first: dt.date, last: dt.date) -> int:
    """How many students are at one of these buildings on any day of a stretch. One query."""
    there = enrollments_holding(first, last).filter(building__in=buildings).values("student")
    by_record = Q(enrollments__isnull=True, building__in=buildings)
    return Student.objects.filter(Q(pk__in=there) | by_record).distinct().count()


def students_anywhere(day: dt.date) -> Q:
    """A condition for students: enrolled at some building on a date."""
    return Q(pk__in=enrollments_holding(day, day).values("student")) | Q(enrollments__isnull=True)


def enrollments_holding(first: dt.date, last: dt.date) -> QuerySet[Enrollment]:
    """Enrollments that hold on any day of a stretch."""
    rows = Enrollment.objects.filter(Q(first_day__isnull=True) | Q(first_day__lte=last))
    return rows.filter(Q(last_day__isnull=True) | Q(last_day__gte=first))


def in_class_on(school_class: int | None, *, student: str, day: F) -> Q:
    """A condition for rows about a student on a day: the class was, is or will be the student's home class then.

    `student` is the path to the student, `day` the row's date. It joins several rows: ask in one `filter`, once
    each by `distinct`. Without enrollments it is the class of the record.
    """
    rows = f"{student}__enrollments"
    begun = Q(**{f"{rows}__first_day__isnull": True}) | Q(**{f"{rows}__first_day__lte": day})
    lasts = Q(**{f"{rows}__last_day__isnull": True}) | Q(**{f"{rows}__last_day__gte": day})
    record = Q(**{f"{rows}__isnull": True, f"{student}__home_class": school_class})
    return (Q(**{f"{rows}__home_class": school_class}) & begun & lasts) | record


def grade_on(student: str, day: str) -> Coalesce:
    """The grade of rows' students on the rows' days, by the paths to both; the record's where they are nowhere."""
    rows = Enrollment.objects.filter(student=OuterRef(student))
    rows = rows.filter(Q(first_day__isnull=True) | Q(first_day__lte=OuterRef(day)))
    rows = rows.filter(Q(last_day__isnull=True) | Q(last_day__gte=OuterRef(day)))
    held = rows.order_by("is_program", F("first_day").desc(nulls_last=True)).values("grade")[:1]
    return Coalesce(Subquery(held), f"{student}__grade")


def students_on_caseload(teacher: Person, day: dt.date) -> QuerySet[Student]:
    """The students on a teacher's caseload on a date."""
    rows = Student.objects.filter(district=teacher.district_id, assignments__teacher=teacher).distinct()
    teachers = caseload_teachers_on(rows.values_list("pk", flat=True), day)
    return Student.objects.filter(pk__in=[student for student, one in teachers.items() if one == teacher.pk])


def students_to_hand_over(giver: Person, from_day: dt.date) -> QuerySet[Student]:
    """The students on a teacher's caseload on a date, and those whom the teacher serves on it or later."""
    served = ServiceLine.objects.filter(provider=giver, end__gte=from_day)
    on_caseload = students_on_caseload(giver, from_day).values("pk")
    own = Q(pk__in=on_caseload) | Q(plans__lines__in=served) | Q(assignments__isnull=True, caseload_teacher=giver)
    return Student.objects.filter(own, district=giver.district_id).distinct()


def hand_overs(district: District) -> list[AuditEntry]:
    """The latest hand-overs of caseloads that weren't taken back, the newest first."""
    rows = AuditEntry.objects.filter(district=district).select_related("actor").order_by("-pk")
    undone = {one.changes["entry"][0] for one in rows.filter(action=HAND_OVER_UNDONE)[:SHOWN_AT_MOST]}
    return [one for one in rows.filter(action=HAND_OVER)[:SHOWN_AT_MOST] if one.pk not in undone]


def hand_over_is_undone(entry: AuditEntry) -> bool:
    """Whether a hand-over was taken back already."""
    done = AuditEntry.objects.filter(action=HAND_OVER_UNDONE, object_id=entry.object_id, district=entry.district_id)
    return any(one.changes["entry"][0] == entry.pk for one in done)


def students_shown_late(district: District, today: dt.date) -> QuerySet[Student]:
    """Students whose record shows what held before today: an enrollment or an assignment has begun since."""
    begun = Enrollment.objects.filter(is_program=False, first_day__lte=today)
    begun = begun.filter(Q(last_day__isnull=True) | Q(last_day__gte=today))
    moved = begun.exclude(student__first_day=F("first_day"), student__first_day__isnull=False)
    given = CaseloadAssignment.objects.filter(first_day__lte=today)
    later = given.filter(student=OuterRef("student"), first_day__gt=OuterRef("first_day"))
    passed_on = given.exclude(Exists(later)).exclude(student__caseload_teacher=F("teacher"))
    return Student.objects.filter(district=district).filter(
        Q(pk__in=moved.values("student")) | Q(pk__in=passed_on.values("student"))
    )
