"""What was asked of the planner for several teachers together, and what it found."""

from typing import Self

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet
from jobs.models import Job
from schedule.calendar.words import week_words
from schedule.weeks.aims import AIM_WORDS, Aim


class TogetherPlanQuerySet(ScopedQuerySet["TogetherPlan"]):
    """The district's for a coordinator; a teacher sees the own draft that comes of it."""

    def narrowed_for(self, viewer: Person) -> Self:
        """All for a coordinator, none for anybody else."""
        return self if viewer.is_coordinator else self.none()


class TogetherPlan(DistrictRow):
    """One week of several teachers, planned together in the background.

    ``found`` holds ids, codes and figures, never a student's name.
    """

    monday = models.DateField()
    teachers = models.ManyToManyField(Person, related_name="+")
    aim = models.CharField(
        max_length=13,
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        default=Aim.USUAL_TIMES.value,
    )
    time_limit = models.PositiveSmallIntegerField(default=10, help_text="Seconds of work a week, each time.")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="together_plan")
    found = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)

    objects = TogetherPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"Together, {week_words(self.monday)}"
