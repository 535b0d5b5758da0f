"""Each student's building, class, grade and days become the first enrollment, and the teacher the first assignment."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

BATCH = 500


def fill(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """One row of both for each student who has none."""
    enrollment = apps.get_model("caseload", "Enrollment")
    assignment = apps.get_model("caseload", "CaseloadAssignment")
    students = apps.get_model("caseload", "Student").objects
    enrollment.objects.bulk_create(
        (
            enrollment(
                student_id=student.pk,
                building_id=student.building_id,
                home_class_id=student.home_class_id,
                grade=student.grade,
                first_day=student.first_day,
                last_day=student.last_day,
            )
            for student in students.filter(enrollments=None).order_by("pk")
        ),
        batch_size=BATCH,
    )
    assignment.objects.bulk_create(
        (
            assignment(student_id=student.pk, teacher_id=student.caseload_teacher_id)
            for student in students.filter(assignments=None).order_by("pk")
        ),
        batch_size=BATCH,
    )


class Migration(migrations.Migration):
    """After the tables: PostgreSQL doesn't change a table in the transaction that filled it."""

    dependencies = [("caseload", "0009_enrollments")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
