"""Tables of activities and of equipment."""

from typing import Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from accounts.models import District, DistrictRow, Person, ScopedQuerySet
from caseload.care.models import CautionTag
from travel.places.models import Building, Space


class KeptQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows that are put away and brought back, shared by the district's teachers; offices see none of them."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Everyone of the district who teaches, stands in or coordinates."""
        return self.none() if viewer.sees_no_students_in_weeks else self

    def in_use(self) -> Self:
        """Without those that were put away."""
        return self.filter(removed_at__isnull=True)


class Activity(DistrictRow):
    """Something that a class does: shared by the district's routines and stations."""

    name = models.CharField(max_length=80)
    about = models.TextField("what it is", blank=True, help_text="How it goes, in a few sentences.")
    is_loud = models.BooleanField("it gets loud", default=False)
    caution_tags = models.ManyToManyField(
        CautionTag,
        blank=True,
        related_name="activities",
        verbose_name="what a caution may be about",
        help_text="Where a student's caution has the same tag, the routine says to ask first, and whom.",
    )
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = KeptQuerySet["Activity"].as_manager()

    class Meta:
        verbose_name_plural = "activities"
        ordering = [Lower("name"), "id"]
        constraints = [
            models.UniqueConstraint(
                "district",
                Lower("name"),
                condition=Q(removed_at__isnull=True),
                name="activity_name_once",
                violation_error_message="Another activity has this name. Change that one, or choose another name.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Equipment(DistrictRow):
    """A kind of equipment, such as poly spots. How many there are, and where, stands in its stocks."""

    name = models.CharField(max_length=80)
    note = models.CharField(max_length=200, blank=True, help_text="Such as the size, or how it is cleaned.")
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = KeptQuerySet["Equipment"].as_manager()

    class Meta:
        verbose_name_plural = "equipment"
        ordering = [Lower("name"), "id"]
        constraints = [
            models.UniqueConstraint(
                "district",
                Lower("name"),
                condition=Q(removed_at__isnull=True),
                name="equipment_name_once",
                violation_error_message="There is equipment with this name already. Add a place to that one.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class EquipmentStockQuerySet(ScopedQuerySet["EquipmentStock"]):
    """Scoped through the equipment."""

    def visible_to(self, viewer: object) -> Self:
        """What of the district's equipment the viewer sees."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(equipment__in=Equipment.objects.visible_to(viewer))


class EquipmentStock(models.Model):
    """How much of one kind of equipment stays in a building, or rides in a teacher's car.

    `count` is all that belongs there; of it some are broken and some lent out, and what is worn can still be used.
    """

    equipment = models.ForeignKey(Equipment, on_delete=models.CASCADE, related_name="stocks")
    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="equipment",
        verbose_name="stays at",
        help_text="Empty where it rides in a car.",
    )
    carried_by = models.ForeignKey(
        Person,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="carried_equipment",
        verbose_name="rides in the car of",
        help_text="Empty where it stays in a building.",
    )
    place = models.CharField(max_length=80, blank=True, help_text="Such as the closet behind the stage.")
    count = models.PositiveSmallIntegerField(default=1)
    worn = models.PositiveSmallIntegerField(default=0)
    broken = models.PositiveSmallIntegerField(default=0)
    lent = models.PositiveSmallIntegerField(default=0)
    lent_to = models.CharField(max_length=80, blank=True)

    objects = EquipmentStockQuerySet.as_manager()

    class Meta:
        verbose_name = "place of equipment"
        verbose_name_plural = "places of equipment"
        ordering = ["equipment", "building", "carried_by"]
        constraints = [
            models.CheckConstraint(
                condition=Q(building__isnull=True) ^ Q(carried_by__isnull=True),
                name="equipment_stays_or_rides",
                violation_error_message="Say in which building it stays, or in whose car it rides: one of the two.",
            ),
            models.CheckConstraint(
                condition=Q(count__gte=F("broken") + F("lent")),
                name="equipment_no_more_than_there_is",
                violation_error_message="More are broken or lent than there are. Count them again.",
            ),
            models.CheckConstraint(
                condition=Q(count__gte=F("worn")),
                name="equipment_worn_at_most_all",
                violation_error_message="More are worn than there are. Count them again.",
            ),
            models.UniqueConstraint(
                fields=["equipment", "building"],
                name="equipment_once_a_building",
                violation_error_message="This equipment has an entry for this building already. Change that one.",
            ),
            models.UniqueConstraint(
                fields=["equipment", "carried_by"],
                name="equipment_once_a_car",
                violation_error_message="This equipment has an entry for this car already. Change that one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.equipment}: {self.where}"

    @property
    def district(self) -> District:
        """The equipment's district."""
        return self.equipment.district

    @property
    def usable(self) -> int:
        """How many can be used: neither broken nor lent."""
        return self.count - self.broken - self.lent

    @property
    def where(self) -> str:
        """The building, or whose car."""
        return str(self.building) if self.building is not None else f"the car of {self.carried_by}"

    def clean(self) -> None:
        """Refuse a car of somebody who doesn't teach."""
        if self.carried_by is not None and not self.carried_by.holds(Person.Role.TEACHER):
            raise ValidationError({"carried_by": "Only a teacher's car is loaded."}, code="no_teacher")


class SpaceCautionsQuerySet(ScopedQuerySet["SpaceCautions"]):
    """Scoped through the space."""

    def visible_to(self, viewer: object) -> Self:
        """Of the spaces that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(space__in=Space.objects.visible_to(viewer))


class SpaceCautions(models.Model):
    """What in a space a student's caution may be about, such as water in a pool."""

    space = models.OneToOneField(Space, on_delete=models.CASCADE, related_name="cautions")
    caution_tags = models.ManyToManyField(
        CautionTag,
        blank=True,
        related_name="spaces",
        verbose_name="what a caution may be about",
        help_text="Where a student's caution has the same tag, each session here says to ask first, and whom.",
    )

    objects = SpaceCautionsQuerySet.as_manager()

    class Meta:
        verbose_name = "cautions of a space"
        verbose_name_plural = "cautions of spaces"
        ordering = ["space"]

    def __str__(self) -> str:
        return f"{self.space}, {self.space.building}"

    @property
    def district(self) -> District:
        """The space's district."""
        return self.space.district
