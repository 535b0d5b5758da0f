"""Links to packets, and every time that one was opened.

The secret of a link is never stored, only its SHA-256.
"""

import datetime as dt
from typing import Self

from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.dates import span_words
from accounts.models import District, DistrictRow, Person, ScopedQuerySet, Substitution


class PacketLinkQuerySet(ScopedQuerySet["PacketLink"]):
    """A teacher sees the links to the own days, a coordinator the district's, nobody else any."""

    def narrowed_for(self, viewer: Person) -> Self:
        """The own days', or all."""
        if viewer.is_coordinator:
            return self
        return self.filter(teacher=viewer) if viewer.is_teacher else self.none()

    def open_at(self, moment: dt.datetime) -> Self:
        """Links that open something at a moment: who made it is there, and who stands in by it still does."""
        covers = Substitution.objects.filter(substitute=OuterRef("person"), teacher=OuterRef("teacher"))
        rows = self.filter(Q(person=None) | Q(Exists(covers)))
        return rows.filter(stopped_at=None, ends_at__gt=moment, made_by__is_active=True, teacher__is_active=True)


class PacketLink(DistrictRow):
    """A link to the packet of a teacher's days, for somebody without a sign-in of their own.

    It shows what whoever made it may see of these days, until it ends or is stopped. With a `person` somebody
    stands in by it: on those days its browser works as that person (`schedule.packet.backends`).
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="packet_links")
    made_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="packet_links_made")
    made_at = models.DateTimeField()
    first_date = models.DateField()
    last_date = models.DateField()
    label = models.CharField(
        max_length=60, help_text="For whom it is, such as “substitute on Friday”; no student's name."
    )
    ends_at = models.DateTimeField(help_text="From then on it opens nothing.")
    stopped_at = models.DateTimeField(null=True, blank=True)
    person = models.OneToOneField(
        Person,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="link",
        help_text="Who stands in by it, and works under that name; none: it is for reading.",
    )
    secret_hash = models.CharField(max_length=64, unique=True, editable=False)

    objects = PacketLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="packet_link_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"Packet for {span_words(self.first_date, self.last_date)}"

    def is_open(self, moment: dt.datetime) -> bool:
        """Whether it still opens something."""
        return self.stopped_at is None and moment < self.ends_at


class PacketViewQuerySet(ScopedQuerySet["PacketView"]):
    """Scoped through the link."""

    def visible_to(self, viewer: object) -> "PacketViewQuerySet":
        """Views of the links that the viewer sees."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(link__in=PacketLink.objects.visible_to(viewer))


class PacketView(models.Model):
    """One opening of a packet by its link. `browser`: what it said it is."""

    link = models.ForeignKey(PacketLink, on_delete=models.CASCADE, related_name="views")
    seen_at = models.DateTimeField()
    browser = models.CharField(max_length=200, blank=True)

    objects = PacketViewQuerySet.as_manager()

    class Meta:
        ordering = ["-seen_at", "-id"]

    def __str__(self) -> str:
        return f"View {self.pk} of a packet"

    @property
    def district(self) -> District:
        """The link's district."""
        return self.link.district
