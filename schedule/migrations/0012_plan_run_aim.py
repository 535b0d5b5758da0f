"""What a run puts first. Runs from before put driving first; make-ups move nothing."""

from django.db import migrations, models

CHOICES = [("usual_times", "Keep usual times"), ("least_driving", "Drive least")]
HELP = "What comes first after owed minutes and wishes; empty for make-ups, which move nothing."


def empty_for_make_ups(apps, schema_editor):
    apps.get_model("schedule", "PlanRun").objects.filter(job__kind="plan_make_ups").update(aim="")


class Migration(migrations.Migration):
    dependencies = [("schedule", "0011_bells_gone")]

    operations = [
        migrations.AddField(
            model_name="planrun",
            name="aim",
            field=models.CharField(
                blank=True, choices=CHOICES, default="least_driving", help_text=HELP, max_length=13
            ),
        ),
        migrations.RunPython(empty_for_make_ups, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="planrun",
            name="aim",
            field=models.CharField(blank=True, choices=CHOICES, default="usual_times", help_text=HELP, max_length=13),
        ),
    ]
