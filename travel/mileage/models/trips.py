"""Trips on which a teacher has decided."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import DistrictRow, Person
from travel.drives.models.drives import MOST_MILES
from travel.mileage.chart import MILES_SOURCES
from travel.mileage.models.rules import OwnMileageQuerySet
from travel.places.models.building import Building

READINGS = "Give both readings of the odometer, the second no smaller than the first."


def _miles(help_text: str) -> "models.DecimalField[Decimal | None, Decimal | None]":
    return models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(2 * MOST_MILES))],
        help_text=help_text,
    )


def _odometer(help_text: str) -> "models.DecimalField[Decimal | None, Decimal | None]":
    return models.DecimalField(
        max_digits=8,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
        help_text=help_text,
    )


def _dollars(help_text: str) -> "models.DecimalField[Decimal, Decimal]":
    return models.DecimalField(
        max_digits=6,
        decimal_places=2,
        default=Decimal(0),
        validators=[MinValueValidator(Decimal(0))],
        help_text=help_text,
    )


class Trip(DistrictRow):
    """One drive that the teacher has decided on: confirmed as planned, corrected, added, or not driven.

    A trip that follows from a published week and on which nobody has decided has no row; ``key`` says which leg of
    which day it is (schedule.trips.selectors.month), so that deciding twice is deciding once.
    """

    class Status(models.TextChoices):
        """What the teacher said."""

        CONFIRMED = "confirmed", "Driven"
        NOT_DRIVEN = "not_driven", "Not driven"

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="trips")
    key = models.CharField(max_length=60, help_text="Date, both ends and a number; see the class.")
    from_week = models.BooleanField(default=False, help_text="It followed from a published week or a logged drive.")
    status = models.CharField(max_length=12, choices=Status, default=Status.CONFIRMED)
    date = models.DateField(help_text="The day driven, in the local time of the building left.")
    origin = models.ForeignKey(
        Building, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Empty: home."
    )
    destination = models.ForeignKey(
        Building, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Empty: home."
    )
    round_trip = models.BooleanField(default=False, help_text="There and back; the miles are those of both ways.")
    direct_miles = _miles("The direct distance, in total; the chart's, where it knows the way.")
    direct_source = models.CharField(max_length=8, choices=MILES_SOURCES, blank=True)
    driven_miles = _miles("What was driven, in total; empty if you didn't read it.")
    odometer_before = _odometer("Before you left.")
    odometer_after = _odometer("After you arrived; for a round trip, after you were back.")
    parking = _dollars("In dollars.")
    tolls = _dollars("In dollars.")
    purpose = models.CharField(
        max_length=120, blank=True, help_text="Empty: what the district says of all trips. No student's name."
    )
    note = models.CharField(max_length=120, blank=True, help_text="For the finance office. No student's name.")

    objects = OwnMileageQuerySet["Trip"].as_manager()

    class Meta:
        ordering = ["date", "key"]
        indexes = [models.Index(fields=["teacher", "date"])]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "key"],
                name="trip_once",
                violation_error_message="This trip is already listed: correct it instead.",
            ),
            models.CheckConstraint(
                condition=Q(origin__isnull=False) | Q(destination__isnull=False),
                name="trip_not_from_home_to_home",
                violation_error_message="Name at least one building.",
            ),
            models.CheckConstraint(
                condition=Q(origin__isnull=True) | Q(destination__isnull=True) | ~Q(origin=F("destination")),
                name="trip_two_places",
                violation_error_message="Choose two different places; for there and back, the place you went to.",
            ),
            models.CheckConstraint(
                condition=Q(odometer_before__isnull=True, odometer_after__isnull=True)
                | Q(
                    odometer_before__isnull=False,
                    odometer_after__isnull=False,
                    odometer_after__gte=F("odometer_before"),
                ),
                name="trip_odometer_rises",
                violation_error_message=READINGS,
            ),
            models.CheckConstraint(
                condition=Q(odometer_before__isnull=True) | Q(driven_miles__isnull=True),
                name="trip_driven_once",
                violation_error_message="Give the driven miles or the two readings, not both.",
            ),
        ]

    def __str__(self) -> str:
        return f"{date_words(self.date)}: {self.origin or 'home'} to {self.destination or 'home'}"

    @property
    def parking_and_tolls(self) -> Decimal:
        """Both, in dollars."""
        return self.parking + self.tolls

    def clean(self) -> None:
        """Refuse buildings of another district and a drive that is none."""
        for name in ("origin", "destination"):
            building = getattr(self, name)
            if building is not None and building.district_id != self.district_id:
                raise ValidationError({name: "This building belongs to another district."}, code="other_district")
        problem = self._odometer_problem()
        if problem:
            raise ValidationError({"odometer_after": problem})

    def _odometer_problem(self) -> str:
        before, after = self.odometer_before, self.odometer_after
        if (before is None) != (after is None):
            return READINGS
        if before is None or after is None:
            return ""
        if after < before:
            return READINGS
        if after - before > 2 * MOST_MILES:
            return f"More than {2 * MOST_MILES} miles in one trip: check both readings."
        return ""
