"""A teacher's own calendars that block planning: only busy times are kept, never titles."""

from typing import Self

from django.db import models
from django.db.models import Q

from accounts.models import Person
from accounts.models.scope import DistrictRow, ScopedQuerySet


class BusyCalendarQuerySet(ScopedQuerySet["BusyCalendar"]):
    """Scoped to the teacher."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own calendars only: what is in a private calendar is nobody else's business."""
        return self.filter(teacher=viewer)


class BusyCalendar(DistrictRow):
    """A calendar of the teacher's own that blocks planning: an uploaded file, or an address that is read again."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="busy_calendars")
    title = models.CharField(max_length=60, help_text="What you call it; it shows on your own pages only.")
    address = models.URLField(max_length=500, blank=True, help_text="Empty for an uploaded file.")
    added_at = models.DateTimeField(auto_now_add=True)
    read_at = models.DateTimeField(null=True, blank=True)
    asked_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(max_length=300, blank=True, help_text="Why the last reading failed.")
    left_out = models.JSONField(
        default=list,
        blank=True,
        editable=False,
        help_text="Sentences about what of the last good reading blocks nothing; no titles.",
    )

    objects = BusyCalendarQuerySet.as_manager()

    class Meta:
        ordering = ["title"]

    def __str__(self) -> str:
        return self.title


class BusyTime(models.Model):
    """A time on one date at which the teacher is busy; no title is kept. Local to the district."""

    calendar = models.ForeignKey(BusyCalendar, on_delete=models.CASCADE, related_name="times")
    date = models.DateField(db_index=True)
    start = models.TimeField()
    end = models.TimeField()

    class Meta:
        ordering = ["date", "start"]
        constraints = [
            models.CheckConstraint(condition=Q(end__gt=models.F("start")), name="busy_time_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.date} {self.start}"
