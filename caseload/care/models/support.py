"""What a student's plan and team ask for, so that the student can take part."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from caseload.care.models.dated import CareRow, DatedQuerySet
from caseload.plans.models import Student


class Support(CareRow):
    """One support of a student, such as pictures, a seat by the wall, or a partner who goes along.

    `is_provisional`: what was found by trying while no plan was there; it stays marked until the team has said.
    """

    class Kind(models.TextChoices):
        """What it is about, or whose note asks for it."""

        BEHAVIOR = "behavior", "Behavior plan"
        COMMUNICATION = "communication", "Communication"
        PT = "pt", "Note of the physical therapist"
        OT = "ot", "Note of the occupational therapist"
        SPEECH = "speech", "Note of the speech therapist"
        SENSORY = "sensory", "Sensory"
        SEATING = "seating", "Seating and position"
        CUE = "cue", "Cue that works"
        WITH = "with", "Goes with another student"
        APART = "apart", "Kept apart from another student"
        AIDE = "aide", "Needs an aide there"
        OTHER = "other", "Other"

    kind = models.CharField(max_length=14, choices=Kind, default=Kind.OTHER)
    other_student = models.ForeignKey(
        Student, on_delete=models.CASCADE, null=True, blank=True, related_name="named_in_supports",
        help_text="With whom the student goes, or from whom the student is kept apart.",
    )  # fmt: skip
    is_provisional = models.BooleanField(default=False, help_text="Found by trying, until the team has said.")

    objects = DatedQuerySet["Support"].as_manager()

    class Meta(CareRow.Meta):
        ordering = ["student", "kind", "id"]
        constraints = [
            *CareRow.Meta.constraints,
            models.CheckConstraint(
                condition=Q(kind__in=["with", "apart"]) | Q(other_student__isnull=True),
                name="support_other_student_by_kind",
                violation_error_message="Another student is named only with “goes with” and “kept apart”.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student.code}: {self.get_kind_display()}"

    @property
    def is_about_two(self) -> bool:
        """Whether it names another student."""
        return self.kind in {self.Kind.WITH, self.Kind.APART}

    def clean(self) -> None:
        """Two students are two, of one district."""
        if not self.is_about_two:
            return
        if self.other_student is None:
            raise ValidationError({"other_student": "Choose the other student."}, code="required")
        if self.other_student == self.student:
            raise ValidationError({"other_student": "Choose another student."}, code="same_student")
        if self.other_student.district_id != self.student.district_id:
            raise ValidationError({"other_student": "This student is in another district."}, code="other_district")
