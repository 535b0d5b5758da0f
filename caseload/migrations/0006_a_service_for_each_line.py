"""Each line that there is becomes a service of its own: nobody said that one continued another, so no figure changes.

By itself, since PostgreSQL changes no table in the transaction that has written to it.
"""

from typing import Any

from django.db import migrations

BATCH = 500


def fill(apps: Any, _editor: Any) -> None:
    """A service for each line without one."""
    lines, services = apps.get_model("caseload", "ServiceLine"), apps.get_model("caseload", "ContinuingService")
    rows = list(lines.objects.filter(service=None).select_related("plan").order_by("pk"))
    for start in range(0, len(rows), BATCH):
        some = rows[start : start + BATCH]
        made = services.objects.bulk_create(services(student_id=one.plan.student_id) for one in some)
        for line, service in zip(some, made, strict=True):
            line.service = service
        lines.objects.bulk_update(some, ["service"])


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0005_continuing_services"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
