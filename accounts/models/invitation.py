"""Invitations: links by which people who have no password of their own yet choose one."""

import datetime as dt

from django.db import models
from django.db.models import Q

from accounts.models.person import Person
from accounts.models.scope import DistrictRow, ForCoordinatorsQuerySet


class InvitationQuerySet(ForCoordinatorsQuerySet["Invitation"]):
    """The district's, for its coordinators."""

    def open_at(self, moment: dt.datetime) -> "InvitationQuerySet":
        """Those whose link works then, or will once it has been sent."""
        return self.filter(stopped_at=None, used_at=None, failed=False, ends_at__gt=moment)


class Invitation(DistrictRow):
    """The invitation sent to a person last; a new one takes its place, and the link before is dead.

    The secret of the link stands in the mail or on the slip alone; `digest` is its SHA-256 in hex.
    """

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="invitation")
    made_at = models.DateTimeField(help_text="UTC")
    ends_at = models.DateTimeField(help_text="UTC. From then on the link opens nothing.")
    on_paper = models.BooleanField(default=False, db_default=False, help_text="Printed, not mailed.")
    sent_at = models.DateTimeField(null=True, help_text="UTC. When it was printed, or handed to the mail server.")
    failed = models.BooleanField(default=False, db_default=False, help_text="The mail server didn't take it.")
    stopped_at = models.DateTimeField(
        null=True, help_text="UTC. When it was taken back, or ended by another password or mail address."
    )
    used_at = models.DateTimeField(null=True, help_text="UTC. When a password was chosen by it.")
    digest = models.CharField(max_length=64, blank=True, editable=False)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["digest"], condition=~Q(digest=""), name="invitation_link_known_once"),
        ]

    def __str__(self) -> str:
        return f"Invitation {self.pk}"
