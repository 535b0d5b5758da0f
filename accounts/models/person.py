"""People who sign in, and what their role lets them see."""

import datetime as dt

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.models.district import District


class Person(AbstractUser):
    """A person with a sign-in; belongs to one district and has one role in it."""

    class Role(models.TextChoices):
        """What a person does in the district (permissions: accounts.permissions)."""

        TEACHER = "teacher", "Itinerant teacher"
        COORDINATOR = "coordinator", "Coordinator"
        OFFICE = "office", "School office"
        SUBSTITUTE = "substitute", "Substitute"

    district = models.ForeignKey(District, on_delete=models.PROTECT, related_name="people", null=True, blank=True)
    role = models.CharField(max_length=12, choices=Role, default=Role.TEACHER)

    class Meta:
        verbose_name_plural = "people"
        ordering = ["last_name", "first_name", "username"]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def is_teacher(self) -> bool:
        """Whether this person teaches a caseload."""
        return self.role == self.Role.TEACHER

    @property
    def is_coordinator(self) -> bool:
        """Whether this person answers for the whole district."""
        return self.role == self.Role.COORDINATOR


class Substitution(models.Model):
    """A substitute sees what the covered teacher sees, between two dates (both included) and no longer."""

    substitute = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="substitutions")
    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="covered_by")
    first_date = models.DateField()
    last_date = models.DateField()

    class Meta:
        ordering = ["first_date"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")), name="substitution_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first_date} to {self.last_date}"

    def clean(self) -> None:
        """Refuse cover across districts."""
        if self.substitute.district_id != self.teacher.district_id:
            raise ValidationError("Substitute and teacher must belong to the same district.", code="other_district")

    def covers(self, day: dt.date) -> bool:
        """Whether the cover holds on a date."""
        return self.first_date <= day <= self.last_date
