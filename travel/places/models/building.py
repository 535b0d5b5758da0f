"""School buildings and other places where a teacher's day begins or ends."""

from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q

from accounts.models import DistrictRow, Person, ScopedQuerySet
from accounts.models.district import validate_time_zone
from travel.places.models.fields import coordinate_field
from travel.places.models.review import BuildingReview


class BuildingQuerySet(ScopedQuerySet["Building"]):
    """Everyone in a district sees its buildings; a school office its own, a reviewer those that are named."""

    def narrowed_for(self, viewer: Person) -> Self:
        """The office's or the reviewer's buildings; the whole district for everyone else."""
        if viewer.role == Person.Role.OFFICE:
            return self.filter(staff__person=viewer)
        if viewer.is_reviewer:
            return self.filter(Exists(BuildingReview.objects.open_to(viewer).filter(buildings=OuterRef("pk"))))
        return self


class Building(DistrictRow):
    """A school, or a base such as the district office, that a teacher drives to."""

    class Level(models.TextChoices):
        """Which grades a building teaches."""

        PRE_K = "prek", "Preschool"
        ELEMENTARY = "elementary", "Elementary"
        MIDDLE = "middle", "Middle"
        HIGH = "high", "High"
        MIXED = "mixed", "Several levels"
        BASE = "base", "Office or base, no classes"

    code = models.SlugField(max_length=20, help_text="Short and unique in the district, such as NORTH.")
    name = models.CharField(max_length=120)
    level = models.CharField(max_length=12, choices=Level, default=Level.ELEMENTARY)
    address = models.CharField(max_length=200, blank=True)
    latitude = coordinate_field(90, "Degrees, WGS84.")
    longitude = coordinate_field(180, "Degrees, WGS84.")
    time_zone = models.CharField(
        max_length=64, blank=True, validators=[validate_time_zone], help_text="Only if not the district's."
    )
    arrive_minutes = models.PositiveSmallIntegerField(
        default=5, validators=[MaxValueValidator(60)], help_text="Minutes to park, sign in and unload."
    )
    leave_minutes = models.PositiveSmallIntegerField(
        default=3, validators=[MaxValueValidator(60)], help_text="Minutes to pack up and sign out."
    )
    last_day = models.DateField(
        null=True, blank=True, help_text="Only where it closes for good: the last day on which anybody goes there."
    )
    office_phone = models.CharField(max_length=40, blank=True)
    office_contact = models.CharField(max_length=80, blank=True, help_text="Whom to ask about spaces and bells.")

    parking = models.CharField(
        max_length=120,
        blank=True,
        default="",
        db_default="",
        help_text="Where to park, such as the lot behind the gym.",
    )
    door = models.CharField(
        max_length=120,
        blank=True,
        default="",
        db_default="",
        help_text="Which door to go in by, such as door 4, ring the bell.",
    )

    objects = BuildingQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "code"],
                name="building_code_once",
                violation_error_message="Another building has this code.",
            ),
            models.UniqueConstraint(
                fields=["district", "latitude", "longitude"],
                name="building_place_once",
                condition=Q(latitude__isnull=False, longitude__isnull=False),
                violation_error_message="Another building has these coordinates.",
            ),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="building_both_coordinates",
                violation_error_message="Give both latitude and longitude, or neither.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> str:
        """IANA time zone: the building's own, else the district's."""
        return self.time_zone or self.district.time_zone

    @property
    def has_place(self) -> bool:
        """Whether coordinates are known, so that a drive can be estimated."""
        return self.latitude is not None and self.longitude is not None


class BuildingStaff(models.Model):
    """Who works in a building's office, and so may see that building's part of a week."""

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="staff")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="offices")

    class Meta:
        verbose_name_plural = "building staff"
        constraints = [
            models.UniqueConstraint(fields=["building", "person"], name="building_staff_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.building}"

    def clean(self) -> None:
        """Refuse a person of another district."""
        if self.person.district_id != self.building.district_id:
            raise ValidationError("This person belongs to another district.", code="other_district")
