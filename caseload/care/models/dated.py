"""What the rows about a student's care share: whose they are, where it stands, when it holds."""

import datetime as dt
from typing import Self

from django.db import models
from django.db.models import F, Q

from accounts.models import District
from caseload.plans.models import Student
from caseload.plans.models.enrollment import OfStudentQuerySet


class DatedQuerySet[M: models.Model](OfStudentQuerySet[M]):
    """Rows about students, some of which hold on a date only."""

    def holding(self, day: dt.date) -> Self:
        """Those that hold on a date."""
        begun = Q(first_day__isnull=True) | Q(first_day__lte=day)
        return self.filter(begun, Q(last_day__isnull=True) | Q(last_day__gte=day))


class CareRow(models.Model):
    """A statement about one student, with where it is written and the days on which it holds (both included).

    Empty days: since as long as anybody knows, and until further notice.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="%(class)s_rows")
    text = models.TextField(max_length=4000, help_text="In the words of the plan or of whoever wrote it.")
    source = models.CharField(
        max_length=120, blank=True, help_text="Where it is written, such as behavior plan or note of the PT."
    )
    written_on = models.DateField(null=True, blank=True, help_text="The date of that plan or note.")
    first_day = models.DateField(null=True, blank=True, help_text="Empty: since as long as anybody knows.")
    last_day = models.DateField(null=True, blank=True, help_text="Empty: until further notice.")

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(first_day__isnull=True) | Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="%(class)s_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district
