"""A class's own day: when it is at school, such as half-day kindergarten, and when it has its lunch."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models import SchoolClass
from travel.places.models import Building


class ClassDayQuerySet(ScopedQuerySet["ClassDayTime"]):
    """Scoped through the class's building."""

    def visible_to(self, viewer: object) -> "ClassDayQuerySet":
        """Own times of the classes of buildings that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(school_class__building__in=Building.objects.visible_to(viewer))


class ClassDayTime(models.Model):
    """From when to when a class is at school, or has lunch, on the days named (`schedule.calendar.day_words`).

    Local times. A class with times at school is there in no others, and not at all on a day that none of them
    names; its lunch takes the place of its grade's on the days named. Both hold between two dates; empty ones leave
    it open.
    """

    class Kind(models.TextChoices):
        """What the class does then."""

        THERE = "there", "At school only then"
        LUNCH = "lunch", "Lunch of its own"

    school_class = models.ForeignKey(SchoolClass, on_delete=models.CASCADE, related_name="day_times")
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.THERE)
    days = models.CharField(
        max_length=60, blank=True, help_text="Such as Mon,Wed, Day 3, A, A Mon or first Wed; empty for every day."
    )
    start = models.TimeField()
    end = models.TimeField()
    first_day = models.DateField(null=True, blank=True, help_text="Empty: since as long as anybody knows.")
    last_day = models.DateField(null=True, blank=True, help_text="Empty: until further notice.")

    objects = ClassDayQuerySet.as_manager()

    class Meta:
        verbose_name = "time of a class's own day"
        verbose_name_plural = "times of classes' own days"
        ordering = ["school_class", "kind", "days", "start"]
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="class_day_ends_after_start",
                violation_error_message="The end is before the start.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.school_class} {self.get_kind_display()} {self.days} {self.start}"

    @property
    def district(self) -> District:
        """The building's district."""
        return self.school_class.building.district

    def clean(self) -> None:
        """Refuse dates in the wrong order."""
        if self.first_day and self.last_day and self.last_day < self.first_day:
            raise ValidationError({"last_day": "The last day is before the first."}, code="ends_before_it_begins")

    def holds_on(self, date: dt.date) -> bool:
        """Whether the date is within its dates."""
        return (self.first_day or date) <= date <= (self.last_day or date)
