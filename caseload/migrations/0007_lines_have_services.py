"""Every line is a version of a service."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0006_a_service_for_each_line"),
    ]

    operations = [
        migrations.AlterField(
            model_name="serviceline",
            name="service",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="versions",
                to="caseload.continuingservice",
            ),
        ),
    ]
