"""Services that go on while their terms change, and each line's place in one (not yet required)."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0004_log_sendings"),
    ]

    operations = [
        migrations.CreateModel(
            name="ContinuingService",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("revision", models.PositiveIntegerField(default=1)),
                (
                    "student",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="services", to="caseload.student"
                    ),
                ),
            ],
            options={"ordering": ["student", "id"]},
        ),
        migrations.AddField(
            model_name="serviceline",
            name="service",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="versions",
                to="caseload.continuingservice",
            ),
        ),
    ]
