"""A teacher's own drive minutes between two buildings: they always win over an estimate."""

from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import DistrictRow, Person, ScopedQuerySet
from travel.places.models.building import Building


class OwnDriveTimeQuerySet(ScopedQuerySet["OwnDriveTime"]):
    """A teacher sees the minutes that they entered; the coordinator sees all."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows, and for a coordinator the district's."""
        return self if viewer.is_coordinator else self.filter(teacher=viewer)


class OwnDriveTime(DistrictRow):
    """Minutes at the wheel from one building's parking lot to the other's, as the teacher knows them."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="own_drive_times")
    origin = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    destination = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(240)])
    miles = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Driven distance, if you know it.",
    )
    both_ways = models.BooleanField(default=True, help_text="The way back takes as long.")

    objects = OwnDriveTimeQuerySet.as_manager()

    class Meta:
        ordering = ["origin", "destination"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "origin", "destination"],
                name="own_drive_time_once",
                violation_error_message="Your minutes for this pair are already there: change them instead.",
            ),
            models.CheckConstraint(
                condition=~Q(origin=F("destination")),
                name="own_drive_time_two_places",
                violation_error_message="Choose two different buildings.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.origin} to {self.destination}: {self.minutes} minutes"

    def clean(self) -> None:
        """Refuse buildings of another district."""
        ends = [getattr(self, name) for name in ("origin", "destination") if getattr(self, f"{name}_id")]
        for building in ends:
            if building.district_id != self.district_id:
                raise ValidationError("Both buildings must belong to the district.", code="other_district")
