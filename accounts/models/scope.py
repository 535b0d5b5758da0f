"""Scoping that fails closed: a row belongs to a district, and nobody sees rows of another."""

from typing import Self

from django.contrib.auth.models import AnonymousUser
from django.db import models

from accounts.models.district import District
from accounts.models.mate import alone
from accounts.models.person import Person

Viewer = Person | AnonymousUser


class ScopedQuerySet[M: models.Model](models.QuerySet[M]):
    """A queryset that knows who is looking.

    `visible_to` starts from the viewer's own district and hands what is left to `narrowed_for`, which each
    model's own queryset may override; without a district nothing is visible.
    """

    def visible_to(self, viewer: Viewer) -> Self:
        """Rows that the viewer may read."""
        if not isinstance(viewer, Person) or not viewer.is_active or viewer.district_id is None or not viewer.role:
            return self.none()
        return self.filter(district_id=viewer.district_id).narrowed_for(viewer)

    def changeable_by(self, actor: Viewer) -> Self:
        """Rows that the actor may change, as far as it hangs on whose they are; the role is asked beside it.

        What somebody sees only because a team shares a caseload isn't among them (`Person.mates`).
        """
        return self.visible_to(alone(actor) if isinstance(actor, Person) else actor)

    def narrowed_for(self, viewer: Person) -> Self:
        """What of the district's rows this person may read; everything unless a model says otherwise."""
        return self


class ForCoordinatorsQuerySet[M: models.Model](ScopedQuerySet[M]):
    """The district's for a coordinator, none for anybody else."""

    def narrowed_for(self, viewer: Person) -> Self:
        """All of it, or nothing."""
        return self if viewer.is_coordinator else self.none()


class DistrictRow(models.Model):
    """Base of every row that belongs to a district."""

    district = models.ForeignKey(District, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True
