"""Reports that take too long for one page: worked out in the background and kept."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.dates import date_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from jobs.models import Job


class StoredReportQuerySet(ScopedQuerySet["StoredReport"]):
    """The coordinator's; nobody else has a district's report."""

    def narrowed_for(self, viewer: Person) -> "StoredReportQuerySet":
        """All of the district, or none."""
        return self if viewer.is_coordinator else self.none()


class StoredReport(DistrictRow):
    """A district's report up to a date: asked for, and once its job is done, what it holds (no student's name)."""

    as_of = models.DateField(help_text="Up to which date.")
    known = models.DateField(
        null=True, blank=True, help_text="As it was known on which day; empty: as it was when it was made."
    )
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="stored_report")
    requested_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    requested_at = models.DateTimeField(auto_now_add=True)
    content = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    objects = StoredReportQuerySet.as_manager()

    class Meta:
        ordering = ["-requested_at", "-id"]

    def __str__(self) -> str:
        known = f", as known on {date_words(self.known)}" if self.known else ""
        return f"District up to {date_words(self.as_of)}{known}"
