"""Services that go on while their terms change."""

from django.db import models

from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models.student import Student


class ContinuingServiceQuerySet(ScopedQuerySet["ContinuingService"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "ContinuingServiceQuerySet":
        """Services of the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))


class ContinuingService(models.Model):
    """One service of a student from its first day to its last, whatever its terms were meanwhile.

    Its `versions` are service lines: the terms (how often, how long, where, by whom) from a day to a day. They may
    lie in plans that follow each other. `revision` counts changes, so that whoever changes it by what they saw
    before somebody else did is told.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="services")
    revision = models.PositiveIntegerField(default=1)

    objects = ContinuingServiceQuerySet.as_manager()

    class Meta:
        ordering = ["student", "id"]

    def __str__(self) -> str:
        return f"{self.student.code}: service {self.pk}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district
