"""A substitution: a substitute stands in for a teacher between two dates."""

import datetime as dt
from typing import Self
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, OuterRef, Q

from accounts.dates import span_words
from accounts.models.district import District
from accounts.models.person import Person
from accounts.models.scope import ScopedQuerySet


class SubstitutionQuerySet(ScopedQuerySet["Substitution"]):
    """The coordinator sees every substitution, a teacher and a substitute their own, an office none."""

    def whole_days(self) -> Self:
        """Those that take the days as they are, and not some sessions alone."""
        return self.filter(sessions=None)

    def of_session(self, uid: OuterRef | UUID) -> Self:
        """Those that a session falls under if its day does; a row may come twice."""
        return self.filter(Q(sessions=None) | Q(sessions__session_uid=uid))

    def visible_to(self, viewer: object) -> Self:
        """Substitutions that the viewer may read."""
        if not isinstance(viewer, Person) or not viewer.is_active or viewer.district_id is None:
            return self.none()
        rows = self.filter(teacher__district_id=viewer.district_id)
        return rows if viewer.is_coordinator else rows.filter(Q(teacher=viewer) | Q(substitute=viewer))


class Substitution(models.Model):
    """A substitute sees what the covered teacher sees, between two dates (both included) and no longer.

    With sessions of its own (`CoveredSession`) it is about these alone, and the teacher's day stays the teacher's.
    """

    substitute = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="substitutions")
    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="covered_by")
    first_date = models.DateField()
    last_date = models.DateField()

    objects = SubstitutionQuerySet.as_manager()

    class Meta:
        ordering = ["first_date", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="substitution_ends_after_start",
                violation_error_message="The last date is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{span_words(self.first_date, self.last_date)}"

    @property
    def district(self) -> District | None:
        """The district of both."""
        return self.teacher.district

    def clean(self) -> None:
        """Refuse a substitution across districts, by nobody's substitute, and for nobody's teacher."""
        if self.substitute.district_id != self.teacher.district_id:
            raise ValidationError("Substitute and teacher must belong to the same district.", code="other_district")
        if not self.substitute.holds(Person.Role.SUBSTITUTE):
            raise ValidationError(
                {"substitute": "Only a person whose role is substitute can cover a teacher."}, code="no_substitute"
            )
        if not self.teacher.holds(Person.Role.TEACHER):
            raise ValidationError({"teacher": "Only a teacher can be covered."}, code="no_teacher")

    def covers(self, day: dt.date) -> bool:
        """Whether the substitute stands in on a date."""
        return self.first_date <= day <= self.last_date

    def covers_session(self, day: dt.date, uid: UUID | None) -> bool:
        """Whether the substitute gives a session of a date: every one, or one that is named."""
        named = {one.session_uid for one in self.sessions.all()}
        return self.covers(day) and (not named or uid in named)


class CoveredSession(models.Model):
    """A session that a substitution is about, known by its uid as the log knows it, whichever week holds it."""

    substitution = models.ForeignKey(Substitution, on_delete=models.CASCADE, related_name="sessions")
    session_uid = models.UUIDField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["substitution", "session_uid"], name="covered_session_once"),
        ]

    def __str__(self) -> str:
        return f"Covered session {self.pk}"
