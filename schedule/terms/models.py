"""What was asked of a planning run of a term, and what it found."""

from typing import Self

from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxValueValidator
from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet
from caseload.ledger.defaults import MOST_USUAL_TIMES_WORTH
from jobs.models import Job
from schedule.terms.changing import WAY_WORDS, Way
from schedule.weeks.models import PlanRun, TimetableVersion


class TermPlanQuerySet(ScopedQuerySet["TermPlan"]):
    """A teacher's own, and for a coordinator the district's."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(run__teacher=viewer)


class TermPlan(DistrictRow):
    """A planning run over a term: what it was asked beside its dates, and the standing timetable that it found."""

    run = models.OneToOneField(PlanRun, on_delete=models.CASCADE, related_name="term")
    worth = models.PositiveSmallIntegerField(
        validators=[MaxValueValidator(MOST_USUAL_TIMES_WORTH)],
        help_text="Minutes of driving a week that leaving usual times must save.",
    )
    way = models.CharField(
        max_length=13,
        choices=[(way.value, words) for way, words in WAY_WORDS.items()],
        default=Way.FEWEST_MOVES.value,
        help_text="What comes first where the timetable in force has to change.",
    )
    afresh = models.BooleanField(default=False, help_text="Plan a new timetable, whatever is in force.")
    based_on = models.ForeignKey(
        TimetableVersion,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="The timetable in force that was changed.",
    )
    standing = models.OneToOneField(
        TimetableVersion, on_delete=models.SET_NULL, null=True, blank=True, related_name="term"
    )
    later = models.ManyToManyField(
        TimetableVersion,
        blank=True,
        related_name="later_in_term",
        help_text="Timetables that follow within the term, each from its first day.",
    )
    summary = models.JSONField(
        default=dict, encoder=DjangoJSONEncoder, help_text="Figures and exceptions by week; codes, no names."
    )

    objects = TermPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"Term: {self.run}"


class TermCurveQuerySet(ScopedQuerySet["TermCurve"]):
    """Those of a teacher's own terms, and for a coordinator the district's."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(term__run__teacher=viewer)


class TermCurve(DistrictRow):
    """What a term's timetable costs by several worths of a usual time, worked out in the background.

    ``found`` holds points and the weeks of each; ids and codes, never a name (``schedule.terms.services.curve``).
    """

    term = models.ForeignKey(TermPlan, on_delete=models.CASCADE, related_name="curves")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="term_curve")
    found = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)

    objects = TermCurveQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]

    def __str__(self) -> str:
        return f"Curve of term {self.term_id}"
