"""Fields that several tables of this floor share."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


def coordinate_field(
    limit: int, help_text: str
) -> "models.DecimalField[Decimal | float | str | None, Decimal | None]":
    """A coordinate that may be unknown: degrees WGS84 from -`limit` to `limit`, to a tenth of a meter."""
    return models.DecimalField(
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-limit), MaxValueValidator(limit)],
        help_text=help_text,
    )
