"""Reads of the caseload floor for pages and the API."""

import datetime as dt
from collections.abc import Collection

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from accounts.models import Person
from caseload.plans.care import Care, care_written
from caseload.plans.models import Plan, ServiceLine, Student
from travel.places.models import Building


def students_listed(*, viewer: Person, today: dt.date, building: Building | None = None) -> QuerySet[Student]:
    """Students whom the viewer sees, with their services of today or later.

    Each has `waits_for_plan`: no plan in force today or later, so that what is done now is provisional or nothing.
    There is no search by name: what is searched for would be in the address, and so in logs.
    """
    in_force = Plan.objects.filter(student=OuterRef("pk"), status=Plan.Status.IN_FORCE, end__gte=today)
    rows = Student.objects.visible_to(viewer).annotate(waits_for_plan=~Exists(in_force))
    if building is not None:
        rows = rows.filter(building=building)
    services = ServiceLine.objects.filter(end__gte=today).order_by("start", "id")
    return rows.select_related("building", "home_class", "caseload_teacher").prefetch_related(
        Prefetch("plans__lines", queryset=services, to_attr="current_lines")
    )


def care_of(viewer: Person, students: Collection[int]) -> dict[int, Care]:
    """Supports and cautions by student id, of those among `students` whom the viewer may see today.

    Whom it leaves out the viewer may not see: a school office sees nobody, a substitute the covered teacher's
    students from the first to the last day of the substitution. One query.
    """
    rows = Student.objects.visible_to(viewer).filter(pk__in=students).values_list("pk", "supports", "cautions")
    return {pk: care_written(supports, cautions) for pk, supports, cautions in rows}


def student_plans(student: Student) -> QuerySet[Plan]:
    """A student's plans with their services, the latest first."""
    lines = ServiceLine.objects.select_related("provider", "pushed_into").prefetch_related("allowed_spaces")
    return student.plans.prefetch_related(Prefetch("lines", queryset=lines)).order_by("-start")


def waits_for_plan(student: Student, today: dt.date) -> bool:
    """Whether no plan is in force today or later."""
    return not student.plans.filter(status=Plan.Status.IN_FORCE, end__gte=today).exists()
