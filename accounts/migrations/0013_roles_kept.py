from django.db import migrations, models


def keep_roles(apps, schema_editor):
    """Everybody holds the role that they have, without a first and a last day, and so do their tokens."""
    person, held = apps.get_model("accounts", "Person"), apps.get_model("accounts", "PersonRole")
    known = person.objects.order_by("pk").values_list("pk", "role").iterator(chunk_size=2000)
    held.objects.bulk_create((held(person_id=pk, role=role) for pk, role in known), batch_size=500)
    own = person.objects.filter(pk=models.OuterRef("person")).values("role")
    apps.get_model("accounts", "ApiToken").objects.filter(role="").update(role=models.Subquery(own))


class Migration(migrations.Migration):
    dependencies = [("accounts", "0012_roles_held")]

    operations = [migrations.RunPython(keep_roles, migrations.RunPython.noop)]
