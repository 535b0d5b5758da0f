"""Who changed what, and when."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.models.person import Person
from accounts.models.scope import DistrictRow, ScopedQuerySet


class AuditEntryQuerySet(ScopedQuerySet["AuditEntry"]):
    """The coordinator reads everything; others read what they did themselves."""

    def narrowed_for(self, viewer: Person) -> "AuditEntryQuerySet":
        """Own entries, unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(actor=viewer)


class AuditEntry(DistrictRow):
    """One change by one person. Written by services in the transaction of the change itself; never edited."""

    actor = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True, help_text="UTC")
    action = models.CharField(max_length=60, help_text="The service's name, such as building_save.")
    model = models.CharField(max_length=60)
    object_id = models.CharField(max_length=40)
    changes = models.JSONField(default=dict, encoder=DjangoJSONEncoder, help_text="Field: [before, after].")

    objects = AuditEntryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "audit entries"
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["model", "object_id"])]

    def __str__(self) -> str:
        return f"{self.action} {self.model} {self.object_id}"
