"""The school district: the wall between one customer's rows and another's."""

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.exceptions import ValidationError
from django.db import models


def validate_time_zone(value: str) -> None:
    """Refuse a name that the IANA time zone database doesn't hold."""
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValidationError(
            "“%(value)s” isn't a time zone. Use a name such as America/Chicago or America/New_York.",
            code="unknown_time_zone",
            params={"value": value},
        ) from error


class District(models.Model):
    """A school district or cooperative."""

    name = models.CharField(max_length=120, unique=True)
    time_zone = models.CharField(
        max_length=64, default="America/New_York", validators=[validate_time_zone], help_text="IANA name."
    )
    state = models.CharField(max_length=2, blank=True, help_text="Two letters; used to look up public holidays.")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
