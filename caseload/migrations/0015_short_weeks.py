"""Short weeks: one rule for the whole week, the default, and the shortest session.

Existing districts keep what they owe: the rule that is gone said the same as the whole week does now, and a district
without rules of its own went by the whole week.
"""

import django.core.validators
from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def keep_rules(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Put down what districts went by."""
    settings = apps.get_model("caseload", "LedgerSettings")
    settings.objects.filter(short_week="any_day").update(short_week="whole")
    held = settings.objects.values("district")
    for district in apps.get_model("accounts", "District").objects.exclude(pk__in=held):
        settings.objects.create(district=district, short_week="whole")


class Migration(migrations.Migration):
    dependencies = [("caseload", "0014_readings_chosen")]

    operations = [
        migrations.AddField(
            model_name="ledgersettings",
            name="least_minutes",
            field=models.PositiveSmallIntegerField(
                default=10,
                help_text="The shortest session. Where a service owes only a share of a week or month, fewer minutes than this that are left over are shown as rounding and not owed. 0: every minute stays owed.",
                validators=[django.core.validators.MaxValueValidator(60)],
            ),
        ),
        migrations.AlterField(
            model_name="ledgersettings",
            name="short_week",
            field=models.CharField(
                choices=[
                    ("whole", "The whole week's minutes, if any day is in session"),
                    ("proportion", "In proportion to the days in session"),
                    ("as_scheduled", "What is scheduled on the days in session"),
                ],
                default="as_scheduled",
                max_length=12,
            ),
        ),
        migrations.RunPython(keep_rules, migrations.RunPython.noop),
    ]
