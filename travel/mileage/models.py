"""Mileage: a district's rules and rates, where a teacher's days begin, trips, and vouchers as they were submitted.

Miles and money are decimal. Nothing here names a student.
"""

import datetime as dt
from decimal import Decimal
from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from travel.drives.models.drives import MOST_MILES
from travel.places.models.building import Building
from travel.places.models.fields import coordinate_field

SINCE_EVER = dt.date(2000, 1, 1)
"""What holds without anybody having said since when."""
READINGS = "Give both readings of the odometer, the second no smaller than the first."


class MileageSettings(DistrictRow):
    """Which miles a district pays from a day on, until its next rules begin.

    Before the first row the usual rules count (travel.mileage.rules.MileageRules).
    """

    class HomeLegs(models.TextChoices):
        """What is paid of the way from home to the first stop and from the last one back."""

        NEVER = "never", "Nothing"
        OTHER_PLACES = "other_places", "To and from every place but the regular place of work"
        ABOVE_COMMUTE = "above_commute", "Only what exceeds the teacher's normal commute"

    class Distance(models.TextChoices):
        """Which distance counts where the chart and the odometer differ."""

        SHORTER = "shorter", "The shorter of the two"
        DIRECT = "direct", "The direct distance between the two places"
        DRIVEN = "driven", "The distance that was driven"

    class Rounding(models.TextChoices):
        """How a line's amount becomes whole cents; it is rounded once, there."""

        HALF_UP = "half_up", "Half a cent goes up"
        HALF_EVEN = "half_even", "Half a cent goes to the even cent"
        DOWN = "down", "Parts of a cent are dropped"

    first_day = models.DateField(
        default=SINCE_EVER, help_text="The first day driven that these rules hold for. Days before it keep theirs."
    )
    home_legs = models.CharField(max_length=16, choices=HomeLegs, default=HomeLegs.NEVER)
    distance = models.CharField(max_length=8, choices=Distance, default=Distance.SHORTER)
    rounding = models.CharField(max_length=10, choices=Rounding, default=Rounding.HALF_UP)

    objects = ScopedQuerySet["MileageSettings"].as_manager()

    class Meta:
        verbose_name_plural = "mileage settings"
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "first_day"],
                name="mileage_settings_once",
                violation_error_message="Other rules already begin on this day: change those.",
            )
        ]

    def __str__(self) -> str:
        return f"Mileage rules of {self.district} from {date_words(self.first_day)}"


class MileageRate(DistrictRow):
    """Dollars a mile from a day on, until the next rate begins or its last day is over."""

    first_day = models.DateField(help_text="The first day driven that is paid at this rate.")
    last_day = models.DateField(
        null=True,
        blank=True,
        help_text="The last day driven that is paid at it. Empty: until the next rate begins.",
    )
    dollars = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(5))],
        help_text="A mile, such as 0.725.",
    )
    source = models.CharField(max_length=120, blank=True, help_text="Such as the decision that set it.")

    objects = ScopedQuerySet["MileageRate"].as_manager()

    class Meta:
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "first_day"],
                name="mileage_rate_once",
                violation_error_message="A rate already begins on this day: change that one.",
            ),
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="mileage_rate_ends_after_it_begins",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.dollars} from {date_words(self.first_day)}"


class OwnMileageQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows about one teacher's mileage: the teacher's own, and for a coordinator the district's."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(teacher=viewer)


class TeacherHome(DistrictRow):
    """Where a teacher's days begin and end from a day on; seen by the teacher and the coordinator only.

    It is sent to nobody.
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="homes")
    first_day = models.DateField(
        default=SINCE_EVER, help_text="The first day driven that this holds for. Days before it keep theirs."
    )
    latitude = coordinate_field(
        90,
        "Degrees, WGS84. Two decimals (about half a mile) are enough; leave it empty if you would rather "
        "enter miles.",
    )
    longitude = coordinate_field(180, "Degrees, WGS84; west is negative.")
    regular_places = models.ManyToManyField(
        Building,
        blank=True,
        related_name="+",
        help_text="Your regular places of work, one or more: the way between them and home is commuting.",
    )
    commute_miles = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(MOST_MILES))],
        help_text="Your normal commute, one way.",
    )

    objects = OwnMileageQuerySet["TeacherHome"].as_manager()

    class Meta:
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "first_day"],
                name="teacher_home_once",
                violation_error_message="Another home or commute already begins on this day: change that one.",
            ),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="teacher_home_both_coordinates",
                violation_error_message="Give both latitude and longitude, or neither.",
            ),
        ]

    def __str__(self) -> str:
        return f"Home of {self.teacher} from {date_words(self.first_day)}"


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
    direct_miles = _miles("The direct distance, in total.")
    driven_miles = _miles("What was driven, in total; empty if you didn't read it.")
    odometer_before = _odometer("Before you left.")
    odometer_after = _odometer("After you arrived; for a round trip, after you were back.")
    parking_and_tolls = models.DecimalField(
        max_digits=6, decimal_places=2, default=Decimal(0), validators=[MinValueValidator(Decimal(0))]
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


class Voucher(DistrictRow):
    """A month's claim. Open: a supplement being prepared. Submitted: its lines are a copy that nothing changes."""

    class Status(models.TextChoices):
        """Whether it can still change."""

        OPEN = "open", "Open"
        SUBMITTED = "submitted", "Submitted"

    teacher = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="vouchers")
    month = models.DateField(help_text="Its first day.")
    number = models.PositiveSmallIntegerField(default=0, help_text="0: the month's voucher; 1, 2, …: supplements.")
    supplement_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="supplements"
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    reprices = models.BooleanField(
        default=False,
        help_text="A supplement that prices every trip of the month again, as the rules of its day are now.",
    )
    rules = models.CharField(max_length=2000, blank=True, help_text="The district's rules then, in words.")
    submitted_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    submitted_at = models.DateTimeField(null=True, blank=True, help_text="UTC")

    objects = OwnMileageQuerySet["Voucher"].as_manager()

    class Meta:
        ordering = ["-month", "number"]
        constraints = [
            models.UniqueConstraint(fields=["teacher", "month", "number"], name="voucher_once"),
            models.UniqueConstraint(
                fields=["teacher", "month"], condition=Q(status="open"), name="one_open_voucher_a_month"
            ),
            models.CheckConstraint(
                condition=Q(status="open", submitted_at__isnull=True)
                | Q(status="submitted", submitted_at__isnull=False, submitted_by__isnull=False),
                name="voucher_says_who_submitted",
            ),
            models.CheckConstraint(
                condition=Q(reprices=False) | Q(number__gt=0),
                name="only_a_supplement_reprices",
                violation_error_message="Only a supplement prices a month again.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.month:%B %Y}" + (f", supplement {self.number}" if self.number else "")


class VoucherLineQuerySet(ScopedQuerySet["VoucherLine"]):
    """Rows scoped through their voucher."""

    def visible_to(self, viewer: object) -> "VoucherLineQuerySet":
        """Lines of the vouchers that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(voucher__in=Voucher.objects.visible_to(viewer))


class VoucherLine(models.Model):
    """One line as it was submitted: words and figures, so that later corrections change nothing in it.

    In a supplement a line that takes an earlier one back has negative miles and money.
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    key = models.CharField(max_length=60, help_text="The trip's.")
    takes_back = models.BooleanField(default=False)
    date = models.DateField()
    origin = models.CharField(max_length=120)
    destination = models.CharField(max_length=120)
    direct_miles = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    driven_miles = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    miles = models.DecimalField(max_digits=6, decimal_places=1, help_text="Claimed.")
    rate = models.DecimalField(max_digits=5, decimal_places=4)
    rate_source = models.CharField(max_length=120, blank=True)
    amount = models.DecimalField(max_digits=8, decimal_places=2, help_text="Dollars for the miles.")
    parking_and_tolls = models.DecimalField(max_digits=7, decimal_places=2)
    rule = models.CharField(max_length=200, help_text="Why so many miles are paid.")
    note = models.CharField(max_length=120, blank=True)

    objects = VoucherLineQuerySet.as_manager()

    class Meta:
        ordering = ["voucher", "position"]
        constraints = [models.UniqueConstraint(fields=["voucher", "position"], name="voucher_line_once")]

    def __str__(self) -> str:
        return f"{date_words(self.date)}: {self.origin} to {self.destination}"

    @property
    def total(self) -> Decimal:
        """Mileage, parking and tolls."""
        return self.amount + self.parking_and_tolls
