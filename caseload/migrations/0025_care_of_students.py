"""The two texts of each student's record become one support and one caution, which say where they come from."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

BATCH = 500
ON_RECORD = "Student's record"


def fill(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Every text that says something."""
    students = apps.get_model("caseload", "Student").objects.order_by("pk")
    for name, model, kind in (("supports", "Support", "other"), ("cautions", "Caution", "medical")):
        table = apps.get_model("caseload", model)
        table.objects.bulk_create(
            (
                table(student_id=pk, text=text.strip(), source=ON_RECORD, kind=kind)
                for pk, text in students.values_list("pk", name)
                if text.strip()
            ),
            batch_size=BATCH,
        )


def back(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """The texts are the record's again."""
    students = apps.get_model("caseload", "Student").objects
    for name, model in (("supports", "Support"), ("cautions", "Caution")):
        rows = apps.get_model("caseload", model).objects.filter(source=ON_RECORD)
        for student, text in rows.values_list("student_id", "text"):
            students.filter(pk=student).update(**{name: text})
        rows.delete()


class Migration(migrations.Migration):
    """After the tables: PostgreSQL doesn't change a table in the transaction that filled it."""

    dependencies = [("caseload", "0024_first_caution_tags")]

    operations = [migrations.RunPython(fill, back, elidable=True)]
