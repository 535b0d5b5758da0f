import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("accounts", "0011_provider_accounts")]

    operations = [
        migrations.AlterField(
            model_name="person",
            name="role",
            field=models.CharField(
                choices=[
                    ("teacher", "Itinerant teacher"),
                    ("coordinator", "Coordinator"),
                    ("office", "School office"),
                    ("substitute", "Substitute"),
                    ("reviewer", "Reviewer"),
                ],
                default="teacher",
                help_text="In which of the roles the person works.",
                max_length=12,
            ),
        ),
        migrations.CreateModel(
            name="PersonRole",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("teacher", "Itinerant teacher"),
                            ("coordinator", "Coordinator"),
                            ("office", "School office"),
                            ("substitute", "Substitute"),
                            ("reviewer", "Reviewer"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "first_day",
                    models.DateField(blank=True, help_text="Empty: from the beginning.", null=True),
                ),
                (
                    "last_day",
                    models.DateField(
                        blank=True, help_text="Including this day. Empty: it doesn't end.", null=True
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="roles",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "role",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("first_day__isnull", True),
                            ("last_day__isnull", True),
                            ("last_day__gte", models.F("first_day")),
                            _connector="OR",
                        ),
                        name="role_ends_after_start",
                        violation_error_message="The last day is before the first.",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="apitoken",
            name="role",
            field=models.CharField(
                blank=True,
                choices=[
                    ("teacher", "Itinerant teacher"),
                    ("coordinator", "Coordinator"),
                    ("office", "School office"),
                    ("substitute", "Substitute"),
                    ("reviewer", "Reviewer"),
                ],
                db_default="",
                default="",
                editable=False,
                help_text="In which role the program asks; empty: in the one in which the person works.",
                max_length=12,
            ),
        ),
    ]
