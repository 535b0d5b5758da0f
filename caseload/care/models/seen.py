"""Who was shown what is written about a student's care."""

from django.db import models

from accounts.models import District, Person
from caseload.plans.models import Student
from caseload.plans.models.enrollment import OfStudentQuerySet


class CareView(models.Model):
    """Supports, cautions or contacts of one student were on a page that a substitute opened.

    `page` is the name of the page's address. Written once and never changed.
    """

    viewer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="care_views")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="care_views")
    seen_at = models.DateTimeField(db_index=True, help_text="UTC")
    page = models.CharField(max_length=60)

    objects = OfStudentQuerySet["CareView"].as_manager()

    class Meta:
        ordering = ["-seen_at", "-id"]

    def __str__(self) -> str:
        return f"View {self.pk} of a student’s care"  # noqa: RUF001 -- as pages write it

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district
