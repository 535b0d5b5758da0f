"""Classes of a school: general classes that a service can be pushed into, and self-contained ones."""

import re

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.grades import read_grades
from travel.places.models import Building

RATIO = re.compile(r"^(\d{1,2}):(\d)(?:\+\((\d):(\d)\)|:(\d))?$")


def validate_grades(value: str) -> None:
    """Refuse text that names no grades."""
    try:
        read_grades(value)
    except ValueError as error:
        raise ValidationError(str(error), code="unknown_grade") from error


class SchoolClassQuerySet(ScopedQuerySet["SchoolClass"]):
    """Classes hold no student data of their own; scoped through the building."""

    def visible_to(self, viewer: object) -> "SchoolClassQuerySet":
        """Classes of the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(building__in=Building.objects.visible_to(viewer))


class SchoolClass(models.Model):
    """A class of a building. When it meets for physical education is schedule's part (ClassMeeting)."""

    class Kind(models.TextChoices):
        """General or self-contained."""

        GENERAL = "general", "General class"
        SELF_CONTAINED = "self_contained", "Self-contained class"

    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="classes")
    code = models.SlugField(max_length=20, help_text="Short and unique in the building, such as RM4.")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=16, choices=Kind, default=Kind.GENERAL)
    class_teacher = models.CharField(max_length=80, blank=True)
    grades = models.CharField(
        max_length=40,
        blank=True,
        validators=[validate_grades],
        help_text="Such as K-2 or 6,7,8; empty for any.",
    )
    ratio = models.CharField(
        max_length=12,
        blank=True,
        validators=[RegexValidator(RATIO, "Write a ratio such as 8:1:1 or 12:1+(3:1).", code="bad_ratio")],
        help_text="Students : teachers : aides, as the class is approved, such as 8:1:1.",
    )
    largest = models.PositiveSmallIntegerField(
        default=30,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text="Most students at one time.",
    )

    objects = SchoolClassQuerySet.as_manager()

    class Meta:
        verbose_name = "class"
        verbose_name_plural = "classes"
        ordering = ["building", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["building", "code"],
                name="class_code_once",
                violation_error_message="This building already has a class with this code.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="self_contained") | ~Q(ratio=""),
                name="self_contained_has_ratio",
                violation_error_message="A self-contained class needs its ratio, such as 8:1:1.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def district(self) -> District:
        """The building's district."""
        return self.building.district

    @property
    def student_limit(self) -> int:
        """Most students at one time: the ratio's first number if there is one, and never over `largest`."""
        match = RATIO.match(self.ratio)
        return min(self.largest, int(match[1])) if match else self.largest
