"""Drives that were driven, and how much longer they take in the rush."""

import datetime as dt
from decimal import Decimal
from typing import Self
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from travel.places.models.building import Building

LONGEST_DRIVE = dt.timedelta(hours=4)
MOST_MILES = 300


class DriveFactor(DistrictRow):
    """How much longer drives take that start in a window of the clock: everywhere, or between two buildings."""

    origin = models.ForeignKey(Building, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    destination = models.ForeignKey(Building, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    both_ways = models.BooleanField(default=True, help_text="The way back too.")
    start = models.TimeField(
        help_text="Drives that start at this time or later, in the local time of the building left."
    )
    end = models.TimeField(help_text="And before this time.")
    factor = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(5)],
        help_text="1.25 is a quarter longer.",
    )
    reason = models.CharField(max_length=80, blank=True, help_text="Such as: parents at the morning bell.")

    objects = ScopedQuerySet["DriveFactor"].as_manager()

    class Meta:
        ordering = ["start", "end", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(origin__isnull=True, destination__isnull=True)
                | Q(origin__isnull=False, destination__isnull=False),
                name="drive_factor_both_ends",
                violation_error_message="Name both buildings, or neither for the whole district.",
            ),
            models.CheckConstraint(
                condition=Q(origin__isnull=True) | ~Q(origin=F("destination")),
                name="drive_factor_two_places",
                violation_error_message="Choose two different buildings.",
            ),
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="drive_factor_ends_after_start",
                violation_error_message="The window ends before it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.start:%H:%M} to {self.end:%H:%M}, times {self.factor}"

    def clean(self) -> None:
        """Refuse buildings of another district."""
        _same_district(self)


class DriveLogQuerySet(ScopedQuerySet["DriveLog"]):
    """A teacher sees the drives that they logged; the coordinator sees all."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows, and for a coordinator the district's."""
        return self if viewer.is_coordinator else self.filter(teacher=viewer)


class DriveLog(DistrictRow):
    """One drive from parking lot to parking lot: when it began and ended, or what the odometer showed, or both."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="drive_logs")
    origin = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    destination = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    date = models.DateField(help_text="Local time at the building you left.")
    started_at = models.DateTimeField(null=True, blank=True, help_text="UTC")
    arrived_at = models.DateTimeField(null=True, blank=True, help_text="UTC; empty while driving.")
    odometer_before = models.DecimalField(
        max_digits=8, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    odometer_after = models.DecimalField(
        max_digits=8, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    note = models.CharField(max_length=120, blank=True)
    planned_drive = models.CharField(
        max_length=60,
        blank=True,
        default="",
        db_default="",
        help_text="Which drive of its day was tapped; empty for one that was entered by hand.",
    )

    objects = DriveLogQuerySet.as_manager()

    class Meta:
        ordering = ["-date", "-started_at", "-id"]
        indexes = [models.Index(fields=["teacher", "origin", "destination"])]
        constraints = [
            models.CheckConstraint(
                condition=~Q(origin=F("destination")),
                name="drive_log_two_places",
                violation_error_message="Choose two different buildings.",
            ),
            models.CheckConstraint(
                condition=Q(arrived_at__isnull=True) | Q(started_at__isnull=False, arrived_at__gt=F("started_at")),
                name="drive_log_arrives_after_start",
                violation_error_message="You can't arrive before you start: check both times.",
            ),
            models.CheckConstraint(
                condition=Q(odometer_after__isnull=True)
                | Q(odometer_before__isnull=False, odometer_after__gte=F("odometer_before")),
                name="drive_log_odometer_rises",
                violation_error_message="The odometer can't show less after the drive: check both readings.",
            ),
            models.CheckConstraint(
                condition=Q(started_at__isnull=False) | Q(odometer_before__isnull=False),
                name="drive_log_says_something",
                violation_error_message="Give the time that you started, or the odometer before the drive.",
            ),
        ]

    def __str__(self) -> str:
        return f"{date_words(self.date)}: {self.origin} to {self.destination}"

    @property
    def minutes(self) -> float | None:
        """Minutes at the wheel, or None while driving or without times."""
        if self.started_at is None or self.arrived_at is None:
            return None
        return (self.arrived_at - self.started_at).total_seconds() / 60

    @property
    def start_minute(self) -> int | None:
        """Minutes after local midnight at which the drive began."""
        if self.started_at is None:
            return None
        local = self.started_at.astimezone(ZoneInfo(self.origin.zone))
        return 60 * local.hour + local.minute

    def clean(self) -> None:
        """Refuse buildings of another district, times and readings that are no drive's; each at its field."""
        _same_district(self)
        found = {"arrived_at": self._time_problem(), "odometer_after": self._odometer_problem()}
        if any(found.values()):
            raise ValidationError({name: text for name, text in found.items() if text})

    def _time_problem(self) -> str:
        if self.arrived_at is None:
            return ""
        if self.started_at is None or self.arrived_at <= self.started_at:
            return "You can't arrive before you start: check both times."
        if self.arrived_at - self.started_at > LONGEST_DRIVE:
            return "This drive would take more than four hours. Correct the time that you arrived."
        return ""

    def _odometer_problem(self) -> str:
        if self.odometer_after is None:
            return ""
        if self.odometer_before is None or self.odometer_after < self.odometer_before:
            return "The odometer can't show less after the drive: check both readings."
        if self.odometer_after - self.odometer_before > MOST_MILES:
            return f"More than {MOST_MILES} miles in one drive: check both readings."
        return ""


def _same_district(row: DriveFactor | DriveLog) -> None:
    ends = [getattr(row, name) for name in ("origin", "destination") if getattr(row, f"{name}_id")]
    if any(building.district_id != row.district_id for building in ends):
        raise ValidationError("Both buildings must belong to the district.", code="other_district")
