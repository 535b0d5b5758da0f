"""Two more tags that a district begins with: given to those that have none of the name."""

from django.db import migrations

MORE = ("small parts", "leaving the room")


def add(apps, schema_editor):
    """Each where the district has none of that name, however it is written."""
    del schema_editor
    tags = apps.get_model("caseload", "CautionTag")
    for district in apps.get_model("accounts", "District").objects.all():
        for name in MORE:
            if not tags.objects.filter(district=district, name__iexact=name).exists():
                tags.objects.create(district=district, name=name)


class Migration(migrations.Migration):
    dependencies = [("caseload", "0028_taken_at")]

    operations = [migrations.RunPython(add, migrations.RunPython.noop)]
