"""Questions about a week that take the planner some time: what to ask for, and what staying the same costs."""

from typing import Self

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet
from jobs.models import Job
from schedule.weeks.models.weeks import WeekPlan


class WeekQuestionQuerySet(ScopedQuerySet["WeekQuestion"]):
    """Those who plan a week see what was asked about it; offices and substitutes don't."""

    def narrowed_for(self, viewer: Person) -> Self:
        """A teacher's own weeks; the district's for a coordinator."""
        if viewer.is_coordinator:
            return self
        return self.filter(week__teacher=viewer) if viewer.is_teacher else self.none()


class WeekQuestion(DistrictRow):
    """One question about one version of a week, answered in the background.

    ``revision`` is the week's when it was asked: an answer about an older one is shown as such. ``found`` holds
    ids, codes and figures, never a student's name (shapes in ``schedule.weeks.planning.questions``).
    """

    class Kind(models.TextChoices):
        """What is asked."""

        FAVORS = "favours", "What to ask for"
        CURVE = "curve", "What staying the same costs"

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="questions")
    kind = models.CharField(max_length=8, choices=Kind)
    revision = models.PositiveIntegerField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="week_question")
    found = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)

    objects = WeekQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"{self.kind} of week {self.week_id}"
