"""People who sign in, and what their role lets them see."""

import datetime as dt

from django.contrib.auth.models import AbstractUser
from django.db import models

from accounts.models.district import District


class Person(AbstractUser):
    """A person with a sign-in; belongs to one district and has one role in it."""

    class Role(models.TextChoices):
        """What a person does in the district (permissions: accounts.permissions)."""

        TEACHER = "teacher", "Itinerant teacher"
        COORDINATOR = "coordinator", "Coordinator"
        OFFICE = "office", "School office"
        SUBSTITUTE = "substitute", "Substitute"
        REVIEWER = "reviewer", "Reviewer"

    district = models.ForeignKey(District, on_delete=models.PROTECT, related_name="people", null=True, blank=True)
    role = models.CharField(max_length=12, choices=Role, default=Role.TEACHER)
    last_day = models.DateField(
        null=True,
        blank=True,
        help_text="Of someone who leaves: the last day of work. Planned sessions after it are off.",
    )
    by_link = models.BooleanField(
        default=False,
        db_default=False,
        editable=False,
        help_text="Stands in by a link that ends by itself, without a sign-in of their own.",
    )
    given_password_ends = models.DateTimeField(
        null=True,
        editable=False,
        help_text="UTC. The password came from somebody else and works for one sign-in until then. "
        "Empty if the person chose it.",
    )
    given_password_used = models.DateTimeField(
        null=True, editable=False, help_text="UTC. When the given password was used for its one sign-in."
    )

    reads_initials = False
    """No column: set for one request whose answer will lie readable on a phone. Students are told by their initials
    then, and nothing of what is written about them (caseload.plans.names, caseload.care.selectors)."""

    class Meta:
        verbose_name_plural = "people"
        ordering = ["last_name", "first_name", "username"]

    def __str__(self) -> str:
        return f"{self.called} (substitute, link)" if self.by_link else self.called

    @property
    def called(self) -> str:
        """The name alone, for whoever is told who comes."""
        return self.get_full_name() or self.username

    @property
    def password_given(self) -> bool:
        """Whether somebody else knows the password: it must be changed before anything else."""
        return self.given_password_ends is not None

    def has_left(self, day: dt.date) -> bool:
        """Whether a date lies after the last day of work."""
        return self.last_day is not None and day > self.last_day

    @property
    def is_teacher(self) -> bool:
        """Whether this person teaches a caseload."""
        return self.role == self.Role.TEACHER

    @property
    def is_coordinator(self) -> bool:
        """Whether this person answers for the whole district."""
        return self.role == self.Role.COORDINATOR

    @property
    def is_reviewer(self) -> bool:
        """Whether this person only looks, at what a coordinator named (travel.places.models.review)."""
        return self.role == self.Role.REVIEWER

    @property
    def sees_no_students_in_weeks(self) -> bool:
        """Whether weeks are shown as times and places alone: to a school office and to a reviewer."""
        return self.role in {self.Role.OFFICE, self.Role.REVIEWER}
