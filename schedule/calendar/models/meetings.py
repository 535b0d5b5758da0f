"""When classes meet for physical education and when spaces are free."""

from django.core.exceptions import ValidationError
from django.db import models

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models import SchoolClass
from travel.places.models import Building, Space


class TimeSlotRow(models.Model):
    """Days (``Mon,Wed``, ``Day 3``, ``A``; empty for every day) and a period's name or two local clock times."""

    days = models.CharField(
        max_length=60, blank=True, help_text="Such as Mon,Wed, Day 3, A, A Mon or first Wed; empty for every day."
    )
    period = models.CharField(max_length=40, blank=True, help_text="Name of a period of the building's bells.")
    start = models.TimeField(null=True, blank=True)
    end = models.TimeField(null=True, blank=True)

    class Meta:
        abstract = True

    def clean(self) -> None:
        """Ask for a period or for both clock times, not both ways."""
        clock = self.start is not None and self.end is not None
        if bool(self.period) == clock or (not clock and (self.start or self.end)):
            raise ValidationError("Give either a period or both a start and an end.", code="period_or_clock")
        if self.start is not None and self.end is not None and self.end <= self.start:
            raise ValidationError({"end": "The end is before the start."}, code="ends_before_start")


class ClassMeetingQuerySet(ScopedQuerySet["ClassMeeting"]):
    """Scoped through the class's building."""

    def visible_to(self, viewer: object) -> "ClassMeetingQuerySet":
        """Meetings of the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(school_class__building__in=Building.objects.visible_to(viewer))


class ClassMeeting(TimeSlotRow):
    """A class's own physical education period: a pushed-in service happens inside it and nowhere else."""

    school_class = models.ForeignKey(SchoolClass, on_delete=models.CASCADE, related_name="meetings")
    space = models.ForeignKey(Space, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")

    objects = ClassMeetingQuerySet.as_manager()

    class Meta:
        ordering = ["school_class", "days", "start", "period"]

    def __str__(self) -> str:
        return f"{self.school_class} {self.days} {self.period or self.start}"

    @property
    def district(self) -> District:
        """The building's district."""
        return self.school_class.building.district


class SpaceFreeTimeQuerySet(ScopedQuerySet["SpaceFreeTime"]):
    """Scoped through the space's building."""

    def visible_to(self, viewer: object) -> "SpaceFreeTimeQuerySet":
        """Free times in the buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(space__building__in=Building.objects.visible_to(viewer))


class SpaceFreeTime(TimeSlotRow):
    """When a space is free for the teacher. A space without any such row is free all day."""

    space = models.ForeignKey(Space, on_delete=models.CASCADE, related_name="free_times")

    objects = SpaceFreeTimeQuerySet.as_manager()

    class Meta:
        ordering = ["space", "days", "start", "period"]

    def __str__(self) -> str:
        return f"{self.space} {self.days} {self.period or self.start}"

    @property
    def district(self) -> District:
        """The building's district."""
        return self.space.building.district
