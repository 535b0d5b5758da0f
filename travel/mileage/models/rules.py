"""A district's mileage rules and rates, and where a teacher's days begin."""

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
from travel.mileage.rates import rate_written
from travel.mileage.rules import MOST_DAY_MILES, SHARE_PERCENT, USUAL_PURPOSE
from travel.places.models.building import Building
from travel.places.models.fields import coordinate_field

SINCE_EVER = dt.date(2000, 1, 1)
"""What holds without anybody having said since when."""


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
        """How an amount becomes whole cents; it is rounded once."""

        HALF_UP = "half_up", "Half a cent goes up"
        HALF_EVEN = "half_even", "Half a cent goes to the even cent"
        DOWN = "down", "Parts of a cent are dropped"

    class RoundedAt(models.TextChoices):
        """Whether each line is rounded, or the total."""

        LINE = "line", "Each line by itself"
        TOTAL = "total", "The total; lines take the cents as the sum grows"

    first_day = models.DateField(
        default=SINCE_EVER, help_text="The first day driven that these rules hold for. Days before it keep theirs."
    )
    home_legs = models.CharField(max_length=16, choices=HomeLegs, default=HomeLegs.NEVER)
    distance = models.CharField(max_length=8, choices=Distance, default=Distance.SHORTER)
    rounding = models.CharField(max_length=10, choices=Rounding, default=Rounding.HALF_UP)
    rounded_at = models.CharField(max_length=5, choices=RoundedAt, default=RoundedAt.LINE)
    share_percent = models.PositiveSmallIntegerField(
        default=SHARE_PERCENT,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Percent. Whoever drove more than the chart by a larger share says why before submitting.",
    )
    most_day_miles = models.PositiveSmallIntegerField(
        default=MOST_DAY_MILES,
        validators=[MinValueValidator(1), MaxValueValidator(2000)],
        help_text="Miles. A day with more of them in all is asked about before submitting.",
    )
    purpose = models.CharField(
        max_length=120,
        blank=True,
        help_text=f"What trips are for, where the teacher says nothing else. Empty: {USUAL_PURPOSE}.",
    )
    account_code = models.CharField(max_length=40, blank=True, help_text="What the finance office books it to.")

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
        return f"{self.dollars_written} from {date_words(self.first_day)}"

    @property
    def dollars_written(self) -> Decimal:
        """As a page writes it."""
        return rate_written(self.dollars)


class AccountCode(DistrictRow):
    """What the finance office books trips to one building, or one teacher's trips, to from a day on.

    A building's goes before the teacher's, and that before the district's (`MileageSettings.account_code`). An
    empty code ends one: from its first day on the next of the three holds.
    """

    first_day = models.DateField(
        default=SINCE_EVER, help_text="The first day driven that it holds for. Days before it keep theirs."
    )
    building = models.ForeignKey(
        Building, on_delete=models.CASCADE, null=True, blank=True, related_name="+", help_text="For trips to it."
    )
    teacher = models.ForeignKey(
        Person,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="For the teacher's trips.",
    )
    code = models.CharField(
        max_length=40, blank=True, help_text="Empty: from that day on the teacher's or the district's holds again."
    )

    objects = ScopedQuerySet["AccountCode"].as_manager()

    class Meta:
        ordering = ["building__name", "teacher__last_name", "first_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(building__isnull=True, teacher__isnull=False)
                | Q(building__isnull=False, teacher__isnull=True),
                name="account_code_of_one",
                violation_error_message="Choose a building or a teacher, and not both.",
            ),
            models.UniqueConstraint(
                fields=["building", "first_day"],
                name="account_code_of_building_once",
                violation_error_message="Another code of this building begins on this day: change that one.",
            ),
            models.UniqueConstraint(
                fields=["teacher", "first_day"],
                name="account_code_of_teacher_once",
                violation_error_message="Another code of this teacher begins on this day: change that one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.building or self.teacher}: {self.code or 'none of its own'}"

    def clean(self) -> None:
        """Refuse a building or a teacher of another district."""
        for name in ("building", "teacher"):
            row = getattr(self, name)
            if row is not None and row.district_id != self.district_id:
                raise ValidationError({name: "This isn't in the district."}, code="other_district")


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
