"""Students that were there before enrollments get one that says what their record said."""

import datetime as dt
from importlib import import_module

from django.apps import apps
from django.db import connection

from caseload.plans.models import CaseloadAssignment, Enrollment
from tests.conftest import Cast


def test_each_student_gets_one_enrollment_and_one_assignment(cast: Cast) -> None:
    """With the days of the record, empty ones too; run twice it adds nothing."""
    first, last = dt.date(2026, 10, 5), dt.date(2027, 3, 1)
    cast.student.first_day, cast.student.last_day, cast.student.home_class = first, last, cast.room4
    cast.student.save()
    migration = import_module("caseload.migrations.0010_enrollments_of_students")
    for _ in range(2):
        migration.fill(apps, connection.schema_editor())
    found = Enrollment.objects.order_by("student__code").values_list(
        "student__code", "building__code", "home_class__code", "grade", "first_day", "last_day", "is_program"
    )
    assert list(found) == [
        ("S01", "NORTH", "RM4", "3", first, last, False),
        ("S02", "SOUTH", None, "3", None, None, False),
    ]
    given = CaseloadAssignment.objects.order_by("student__code").values_list("teacher__username", "first_day")
    assert list(given) == [("teacher", None), ("mate", None)]
