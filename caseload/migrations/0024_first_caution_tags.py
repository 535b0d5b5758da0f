"""Each district that is there already gets the caution tags that a new one begins with."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

FIRST = ("height", "water", "heat", "latex", "flashing light", "contact", "exertion", "noise")


def fill(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """All of them for each district without any."""
    tag = apps.get_model("caseload", "CautionTag")
    districts = apps.get_model("accounts", "District").objects
    known = set(tag.objects.values_list("district_id", flat=True))
    tag.objects.bulk_create(
        tag(district_id=district, name=name)
        for district in districts.order_by("pk").values_list("pk", flat=True)
        if district not in known
        for name in FIRST
    )


class Migration(migrations.Migration):
    """After the tables: PostgreSQL doesn't change a table in the transaction that filled it."""

    dependencies = [("caseload", "0023_care")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
