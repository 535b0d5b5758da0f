"""Parking and tolls apart. What was entered together stays where it is, as parking; submitted lines say so."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import migrations, models


def dollars() -> "models.DecimalField[Decimal, Decimal]":
    """Of a trip."""
    return models.DecimalField(
        decimal_places=2,
        default=Decimal(0),
        help_text="In dollars.",
        max_digits=6,
        validators=[MinValueValidator(Decimal(0))],
    )


class Migration(migrations.Migration):
    """Rename, and a field for tolls: empty in lines that were submitted before."""

    dependencies = [("travel", "0011_estimates_by_choice")]

    operations = [
        migrations.RenameField("trip", "parking_and_tolls", "parking"),
        migrations.AlterField("trip", "parking", dollars()),
        migrations.AddField("trip", "tolls", dollars()),
        migrations.RenameField("voucherline", "parking_and_tolls", "parking"),
        migrations.AddField(
            "voucherline",
            "tolls",
            models.DecimalField(
                blank=True,
                decimal_places=2,
                help_text="Empty: submitted before they were told apart, and in the parking.",
                max_digits=7,
                null=True,
            ),
        ),
    ]
