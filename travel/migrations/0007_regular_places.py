from django.db import migrations


class Migration(migrations.Migration):
    """Apart from the rows that are moved: PostgreSQL alters no table that still has rows to check."""

    dependencies = [("travel", "0006_dated_mileage")]

    operations = [migrations.RemoveField(model_name="teacherhome", name="regular_place")]
