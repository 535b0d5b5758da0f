"""Compensatory time: what a student's team decided to give for minutes that weren't given."""

from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models.student import Student


class CompensatoryTimeQuerySet(ScopedQuerySet["CompensatoryTime"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "CompensatoryTimeQuerySet":
        """Those of the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))


class CompensatoryTime(models.Model):
    """Minutes that the team decided on, who did, when, and until when they are to be given.

    An account of its own: no service owes them, and only log entries that name it pay it.
    """

    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="compensatory_times")
    minutes = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(99_999)])
    decided_by = models.CharField(
        max_length=120, help_text="Who decided: the team, with its meeting if there was one."
    )
    decided_on = models.DateField(help_text="The day of the decision.")
    until = models.DateField(help_text="The last day by which it is to be given.")
    note = models.TextField(blank=True, max_length=1000, validators=[MaxLengthValidator(1000)])
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    recorded_at = models.DateTimeField(auto_now_add=True, help_text="UTC")

    objects = CompensatoryTimeQuerySet.as_manager()

    class Meta:
        verbose_name = "compensatory time"
        verbose_name_plural = "compensatory times"
        ordering = ["student", "decided_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until__gte=F("decided_on")),
                name="compensatory_ends_after_decision",
                violation_error_message="The last day is before the decision.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} minutes decided on {date_words(self.decided_on)}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district
