"""Which roles a person holds, from which day to which."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words, is_within, span_words
from accounts.models.district import District
from accounts.models.person import Person
from accounts.models.scope import ScopedQuerySet


def held_on(day: dt.date, *roles: str) -> Q:
    """A condition on people: those who hold one of the roles on a date."""
    return Q(pk__in=PersonRole.objects.filter(role__in=roles).in_force(day).values("person"))


def held_from(day: dt.date, *roles: str) -> Q:
    """A condition on people: those who hold one of the roles on a date or later."""
    rows = PersonRole.objects.filter(role__in=roles).exclude(last_day__lt=day)
    return Q(pk__in=rows.values("person"))


def held_ever(*roles: str) -> Q:
    """A condition on people: those who hold one of the roles, held it, or will. What they did stays theirs."""
    return Q(pk__in=PersonRole.objects.filter(role__in=roles).values("person"))


class PersonRoleQuerySet(ScopedQuerySet["PersonRole"]):
    """A coordinator sees the district's, everybody else the own."""

    def visible_to(self, viewer: object) -> Self:
        """Roles that the viewer may read."""
        if not isinstance(viewer, Person) or not viewer.is_active or viewer.district_id is None:
            return self.none()
        rows = self.filter(person__district_id=viewer.district_id, person__by_link=False)
        return rows if viewer.is_coordinator else rows.filter(person=viewer)

    def in_force(self, day: dt.date) -> Self:
        """Those of a date."""
        begun = Q(first_day__isnull=True) | Q(first_day__lte=day)
        return self.filter(begun, Q(last_day__isnull=True) | Q(last_day__gte=day))


class PersonRole(models.Model):
    """A role of a person between two days, both included; without a day it has no beginning or no end.

    Somebody may hold several at once and works in one of them at a time (NIST RBAC, ANSI INCITS 359-2004: a session
    activates roles of its user; accounts.roles).
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="roles")
    role = models.CharField(max_length=12, choices=Person.Role)
    first_day = models.DateField(null=True, blank=True, help_text="Empty: from the beginning.")
    last_day = models.DateField(null=True, blank=True, help_text="Including this day. Empty: it doesn't end.")

    objects = PersonRoleQuerySet.as_manager()

    class Meta:
        verbose_name = "role"
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(first_day__isnull=True) | Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="role_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()}{f', {self.days}' if self.days else ''}"

    @property
    def district(self) -> District | None:
        """The person's."""
        return self.person.district

    @property
    def days(self) -> str:
        """From when to when, in words; empty for always."""
        if self.first_day is not None and self.last_day is not None:
            return span_words(self.first_day, self.last_day)
        if self.first_day is not None:
            return f"from {date_words(self.first_day)}"
        return f"until {date_words(self.last_day)}" if self.last_day is not None else ""

    def holds(self, day: dt.date) -> bool:
        """Whether it is in force on a date."""
        return is_within(day, self.first_day, self.last_day)

    def clean(self) -> None:
        """Refuse the same role twice at one time, and any for somebody who stands in by a link."""
        if self.person.by_link:
            raise ValidationError("Whoever stands in by a link has no other role.", code="by_link")
        others = PersonRole.objects.filter(person=self.person, role=self.role).exclude(pk=self.pk)
        if self.first_day is not None:
            others = others.filter(Q(last_day__isnull=True) | Q(last_day__gte=self.first_day))
        if self.last_day is not None:
            others = others.filter(Q(first_day__isnull=True) | Q(first_day__lte=self.last_day))
        other = others.first()
        if other is not None:
            message = f"{self.person} has this role already ({other}). Change its days instead."
            raise ValidationError({"role": message}, code="held_already")
