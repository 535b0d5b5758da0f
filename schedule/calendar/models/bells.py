"""Bell schedules of a building, and the days on which each of them rings."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models.school_class import validate_grades
from travel.places.models import Building


class OfBuildingQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their `building`."""

    def visible_to(self, viewer: object) -> "OfBuildingQuerySet[M]":
        """Rows of the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(building__in=Building.objects.visible_to(viewer))


class BellSchedule(models.Model):
    """Named periods of one building; which ones they are has first days (`BellPeriod.first_day`)."""

    class Kind(models.TextChoices):
        """On what sort of day it rings."""

        REGULAR = "regular", "Regular"
        EARLY_DISMISSAL = "early_dismissal", "Early dismissal"
        DELAYED_OPENING = "delayed_opening", "Delayed opening"
        ASSEMBLY = "assembly", "Assembly"
        OTHER = "other", "Other"

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="bell_schedules")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=16, choices=Kind, default=Kind.REGULAR)
    passing_minutes = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(20)])

    objects = OfBuildingQuerySet["BellSchedule"].as_manager()

    class Meta:
        ordering = ["building", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["building", "name"],
                name="bell_schedule_name_once",
                violation_error_message="This building already has a bell schedule with this name.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def district(self) -> District:
        """The building's district."""
        return self.building.district


class BellPeriodQuerySet(ScopedQuerySet["BellPeriod"]):
    """Scoped through the schedule's building."""

    def visible_to(self, viewer: object) -> "BellPeriodQuerySet":
        """Periods of the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(schedule__building__in=Building.objects.visible_to(viewer))


class BellPeriod(models.Model):
    """One period of the set that rings from a first day on; times are local to the building.

    The periods of a schedule with one `first_day` are a set, and it rings until the next set's first day
    (schedule.calendar.selectors.bells). Overlaps within a set are refused by the service (bell_schedule_save).
    """

    class Kind(models.TextChoices):
        """What the period is for."""

        INSTRUCTION = "instruction", "Instruction"
        LUNCH = "lunch", "Lunch"
        HOMEROOM = "homeroom", "Homeroom"
        OTHER = "other", "Other"

    schedule = models.ForeignKey(BellSchedule, on_delete=models.CASCADE, related_name="periods")
    first_day = models.DateField(
        "from", null=True, blank=True, help_text="The first day of its set. Empty: as long as anybody knows."
    )
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.INSTRUCTION)
    start = models.TimeField()
    end = models.TimeField()
    grades = models.CharField(
        max_length=40,
        blank=True,
        validators=[validate_grades],
        help_text="For a lunch: which grades; empty for all.",
    )

    objects = BellPeriodQuerySet.as_manager()

    class Meta:
        ordering = ["schedule", "start", "end"]
        constraints = [
            models.UniqueConstraint(
                fields=["schedule", "name"],
                condition=Q(first_day=None),
                name="period_name_once_ever",
                violation_error_message="This bell schedule already has a period with this name.",
            ),
            models.UniqueConstraint(
                fields=["schedule", "first_day", "name"],
                name="period_name_once_from_a_day",
                violation_error_message="This bell schedule already has a period with this name.",
            ),
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="period_ends_after_start",
                violation_error_message="The period ends before it starts.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def district(self) -> District:
        """The building's district."""
        return self.schedule.building.district


class DayRotation(models.Model):
    """How a building names its days from a first day on: plain weekdays, A/B weeks, or a cycle of 2 to 10 days.

    It holds until the first day of the next row of the same rotation: of the building's own, or of that name.
    Both practices after a closure exist in districts: the next unused label follows, or the label stays fixed
    to the date. A building has one of its own, and may have others that some grades follow; each counts by itself.
    """

    class Kind(models.TextChoices):
        """Weekdays, A/B weeks or a cycle of days."""

        WEEKDAY = "weekday", "Plain weekdays"
        AB_WEEKS = "ab_weeks", "A/B weeks"
        CYCLE = "cycle", "Cycle of days"

    class Practice(models.TextChoices):
        """What a closed day does to the label."""

        NEXT_UNUSED = "next_unused", "After a closed day the next unused label follows"
        FIXED = "fixed_to_date", "The label is fixed to the date"

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="rotations")
    name = models.CharField(
        max_length=40, blank=True, db_default="", default="", help_text="Such as Middle grades."
    )
    grades = models.CharField(
        max_length=40,
        blank=True,
        db_default="",
        default="",
        validators=[validate_grades],
        help_text="Who follows it, such as 6-8; empty for all whom no other rotation of the building names.",
    )
    first_day = models.DateField(
        "from", null=True, blank=True, help_text="The first day that it names. Empty: as long as anybody knows."
    )
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.WEEKDAY)
    length = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(2), MaxValueValidator(10)],
        help_text="Days in the cycle, 2 to 10.",
    )
    labels = models.CharField(max_length=80, blank=True, help_text="Such as A,B,C,D; empty for Day 1, Day 2, …")
    practice = models.CharField(max_length=14, choices=Practice, default=Practice.NEXT_UNUSED)
    anchor_date = models.DateField(null=True, blank=True, help_text="A school day whose label is known.")
    anchor_label = models.CharField(max_length=12, blank=True, help_text="Its label; empty for the first.")

    objects = OfBuildingQuerySet["DayRotation"].as_manager()

    class Meta:
        verbose_name = "rotation of days"
        verbose_name_plural = "rotations of days"
        ordering = ["building", "grades", "name", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["building"],
                condition=Q(grades="", first_day=None),
                name="rotation_of_its_own_once",
                violation_error_message="This building has a rotation already. Say which grades follow this one.",
            ),
            models.UniqueConstraint(
                fields=["building", "first_day"],
                condition=Q(grades=""),
                name="rotation_of_its_own_from_a_day",
                violation_error_message="The building has a rotation from this day on already. Change that one.",
            ),
            models.UniqueConstraint(
                fields=["building", "name"],
                condition=Q(first_day=None),
                name="rotation_name_once",
                violation_error_message="This building already has a rotation with this name.",
            ),
            models.UniqueConstraint(
                fields=["building", "name", "first_day"],
                name="rotation_name_once_from_a_day",
                violation_error_message="This building has a rotation with this name from this day on already.",
            ),
            models.CheckConstraint(
                condition=Q(kind="weekday") | Q(anchor_date__isnull=False),
                name="rotation_has_anchor",
                violation_error_message="Name a school day whose label is known.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="cycle") | Q(length__isnull=False),
                name="rotation_cycle_has_length",
                violation_error_message="Say how many days the cycle has (2 to 10).",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.get_kind_display()}" if self.name else self.get_kind_display()

    @property
    def district(self) -> District:
        """The building's district."""
        return self.building.district


class BellRule(models.Model):
    """Rings a schedule other than the regular one on some days: ``Wed``, ``Day 3``, ``A Mon``, ``first Wed``."""

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="bell_rules")
    day = models.CharField(max_length=24, help_text="Such as Wed, Day 3, B, A Mon or first Wed.")
    schedule = models.ForeignKey(BellSchedule, on_delete=models.CASCADE, related_name="rules")

    objects = OfBuildingQuerySet["BellRule"].as_manager()

    class Meta:
        ordering = ["building", "day"]
        constraints = [
            models.UniqueConstraint(
                fields=["building", "day"],
                name="bell_rule_once",
                violation_error_message="This day already has a bell schedule.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day}: {self.schedule}"

    @property
    def district(self) -> District:
        """The building's district."""
        return self.building.district
