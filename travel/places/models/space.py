"""Rooms and fields where a class can meet."""

import datetime as dt

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, Person, ScopedQuerySet
from travel.places.models.building import Building


class SpaceKind(models.TextChoices):
    """What sort of space it is."""

    GYM = "gym", "Gym"
    HALF_GYM = "half_gym", "Half gym"
    MULTIPURPOSE = "multipurpose", "Multipurpose room"
    CLASSROOM = "classroom", "Classroom"
    FIELD = "field", "Field"
    POOL = "pool", "Pool"


class SpaceQuerySet(ScopedQuerySet["Space"]):
    """Scoped through the building."""

    def visible_to(self, viewer: object) -> "SpaceQuerySet":
        """Spaces of the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(building__in=Building.objects.visible_to(viewer))


class Space(models.Model):
    """A space of a building. When it is free is schedule's part (schedule.calendar.models.SpaceFreeTime)."""

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="spaces")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=14, choices=SpaceKind, default=SpaceKind.GYM)
    classes_that_fit = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(10)],
        help_text="How many classes can use it at one time.",
    )
    first_day = models.DateField(
        "first day",
        null=True,
        blank=True,
        help_text="Only if it isn't there before that day, such as a new gym. Nothing is planned in it earlier.",
    )
    last_day = models.DateField(
        "last day",
        null=True,
        blank=True,
        help_text="Only if it is gone after that day. What is planned in it then stays until it is planned again.",
    )

    objects = SpaceQuerySet.as_manager()

    class Meta:
        ordering = ["building", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["building", "name"],
                name="space_name_once",
                violation_error_message="This building already has a space with this name.",
            ),
            models.CheckConstraint(
                condition=Q(first_day__isnull=True) | Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="space_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def district(self) -> District:
        """The building's district."""
        return self.building.district

    def why_not_on(self, date: dt.date) -> str:
        """Why it can't be used at all on a date (`isn't open before March 1, 2027`); empty if it is there."""
        if self.first_day is not None and date < self.first_day:
            return f"isn't open before {date_words(self.first_day)}"
        if self.last_day is not None and date > self.last_day:
            return f"is gone after {date_words(self.last_day)}"
        return ""
