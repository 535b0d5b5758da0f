"""People who sign in, and what their role lets them see."""

import datetime as dt
from typing import TYPE_CHECKING, Any, Self

from django.contrib.auth.models import AbstractUser
from django.db import models

from accounts.dates import is_within
from accounts.models.district import District

if TYPE_CHECKING:
    from accounts.models.mate import Mate
    from accounts.models.role import PersonRole


class Person(AbstractUser):
    """A person with a sign-in; belongs to one district, holds roles in it and works in one of them at a time.

    `role` is the one in which the person works: as saved, the one chosen last; in a request, the session's
    (`act_as`). Which roles somebody holds, and from when to when, is asked by `holds` and `held_on`.
    """

    class Role(models.TextChoices):
        """What a person does in the district (permissions: accounts.permissions)."""

        TEACHER = "teacher", "Itinerant teacher"
        COORDINATOR = "coordinator", "Coordinator"
        OFFICE = "office", "School office"
        SUBSTITUTE = "substitute", "Substitute"
        REVIEWER = "reviewer", "Reviewer"

    district = models.ForeignKey(District, on_delete=models.PROTECT, related_name="people", null=True, blank=True)
    role = models.CharField(
        max_length=12, choices=Role, default=Role.TEACHER, help_text="In which of the roles the person works."
    )
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

    mates: "tuple[Mate, ...]" = ()
    """No column: set for one request whose page or operation teams open (caseload.teams). With whom the person
    shares a caseload today. Without it nobody sees a mate's students: in no job, calendar or other request."""

    _saved_role: str | None = None
    _known_roles: "tuple[PersonRole, ...] | None" = None

    class Meta:
        verbose_name_plural = "people"
        ordering = ["last_name", "first_name", "username"]

    def __str__(self) -> str:
        return f"{self.called} (substitute, link)" if self.by_link else self.called

    def save(self, *args: Any, **more: Any) -> None:
        """Save it; the role that is saved is held from then on, and never one that a session alone has chosen."""
        acting, self.role = self.role, self._saved_role or self.role
        fields = more.get("update_fields")
        try:
            super().save(*args, **more)
            if fields is None or "role" in fields:
                self._role_keep()
        finally:
            self.role = acting

    def _role_keep(self) -> None:
        """Somebody new holds the role; the only one of somebody else becomes it."""
        rows = list(self.roles.all())
        if any(one.role == self.role for one in rows):
            return
        if len(rows) == 1:
            rows[0].role = self.role
            rows[0].save()
        else:
            self.roles.create(role=self.role)
        self._known_roles = None

    def refresh_from_db(self, using: str | None = None, fields: Any = None, from_queryset: Any = None) -> None:
        """Also the roles are read anew; somebody who works in another role than the saved one goes on in it."""
        if fields is not None:
            super().refresh_from_db(using, fields, from_queryset)
            return
        acting, saved = self.role, self._saved_role
        super().refresh_from_db(using, fields, from_queryset)
        self._known_roles = None
        if saved is not None:
            self._saved_role, self.role = self.role, acting

    def act_as(self, role: str) -> Self:
        """Work in a role until this object goes; nothing is saved. The caller has asked whether it is held."""
        if self._saved_role is None:
            self._saved_role = self.role
        self.role = role
        return self

    def mates_logged(self, day: dt.date) -> frozenset[int]:
        """By id, the mates whose sessions of a date the person may log."""
        return frozenset(one.person_id for one in self.mates if one.logs and one.shares(day))

    @property
    def role_rows(self) -> "tuple[PersonRole, ...]":
        """Every role with its days, the one held longest first. One query, once for this object."""
        if self._known_roles is None:
            self._known_roles = tuple(self.roles.all()) if self.pk else ()
        return self._known_roles

    def roles_on(self, day: dt.date) -> tuple[str, ...]:
        """The roles that the person holds on a date."""
        rows = (one for one in self.role_rows if is_within(day, one.first_day, one.last_day))
        return tuple(dict.fromkeys(one.role for one in rows))

    def holds(self, role: str, day: dt.date | None = None) -> bool:
        """Whether the person has a role on a date; without a date: has it, had it or will have it."""
        rows = (one for one in self.role_rows if one.role == role)
        return any(day is None or is_within(day, one.first_day, one.last_day) for one in rows)

    def holds_from(self, role: str, day: dt.date) -> bool:
        """Whether the person has a role on a date or later."""
        return any(one.role == role and (one.last_day is None or one.last_day >= day) for one in self.role_rows)

    @property
    def last_teaching_day(self) -> dt.date | None:
        """The last day of the teacher's role, or of work if that is before it; None while neither ends."""
        ends = [one.last_day for one in self.role_rows if one.role == self.Role.TEACHER]
        known = [self.last_day, max((day for day in ends if day is not None), default=None)]
        if None in ends:
            return self.last_day
        return min((day for day in known if day is not None), default=None)

    @property
    def called(self) -> str:
        """The name alone, for whoever is told who comes."""
        return self.get_full_name() or self.username

    @property
    def password_given(self) -> bool:
        """Whether somebody else knows the password: it must be changed before anything else."""
        return self.given_password_ends is not None

    def has_left(self, day: dt.date) -> bool:
        """Whether a date lies after the last day on which the person teaches."""
        last = self.last_teaching_day
        return last is not None and day > last

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
