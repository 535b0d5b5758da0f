"""Each entry's provider is who has its service: who had it then was never kept."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import OuterRef, Subquery


def fill(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """One statement for all of them."""
    line = apps.get_model("caseload", "ServiceLine").objects.filter(pk=OuterRef("service_line"))
    entries = apps.get_model("caseload", "DeliveryEntry").objects.filter(provider=None)
    entries.update(provider=Subquery(line.values("provider")[:1]))


class Migration(migrations.Migration):
    """After the column: PostgreSQL doesn't change a table in the transaction that filled it."""

    dependencies = [("caseload", "0018_who_gave")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
