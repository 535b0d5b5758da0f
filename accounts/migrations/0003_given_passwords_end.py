"""A given password ends, and works once. Those that were given before this work for one more sign-in.

Stop the old version before this is applied: it reads the column that goes.
"""

import datetime as dt

from django.db import migrations, models
from django.utils import timezone

KEPT = dt.timedelta(days=7)


def end_those_given(apps, schema_editor):
    """From now on, since nobody noted when they were given."""
    rows = apps.get_model("accounts", "Person").objects.filter(password_given=True)
    rows.update(given_password_ends=timezone.now() + KEPT)


def note_those_given(apps, schema_editor):
    """The way back."""
    rows = apps.get_model("accounts", "Person").objects.filter(given_password_ends__isnull=False)
    rows.update(password_given=True)


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0002_people"),
    ]

    operations = [
        migrations.AddField(
            model_name="person",
            name="given_password_ends",
            field=models.DateTimeField(
                editable=False,
                help_text="UTC. The password came from somebody else and works for one sign-in until then. Empty if the person chose it.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="given_password_used",
            field=models.DateTimeField(
                editable=False,
                help_text="UTC. When the given password was used for its one sign-in.",
                null=True,
            ),
        ),
        migrations.RunPython(end_those_given, note_those_given),
        migrations.RemoveField(model_name="person", name="password_given"),
    ]
