"""What to be careful about with a student, and what in an activity meets it."""

from django.db import models
from django.db.models.functions import Lower

from accounts.models import DistrictRow, ScopedQuerySet
from caseload.care.models.dated import CareRow, DatedQuerySet


class CautionTag(DistrictRow):
    """What an activity, a station or a place can have that a caution is about, such as height or latex.

    A new district begins with those of `caseload.care.written.FIRST_TAGS` and adds its own.
    """

    name = models.CharField(max_length=40, help_text="One word or two, such as water or flashing light.")

    objects = ScopedQuerySet["CautionTag"].as_manager()

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "district",
                name="caution_tag_once",
                violation_error_message="The district already has this tag.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Caution(CareRow):
    """One thing to be careful about, with what to do in an emergency and who decides what the student may do.

    It says whom to ask; it never says that anything is allowed.
    """

    class Kind(models.TextChoices):
        """What it comes from."""

        MEDICAL = "medical", "Medical"
        PHYSICAL = "physical", "Physical"
        BEHAVIORAL = "behavioral", "Behavioral"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.MEDICAL)
    tags = models.ManyToManyField(
        CautionTag, blank=True, related_name="cautions",
        help_text="What in an activity or a place this caution is about. Such an activity says: ask first.",
    )  # fmt: skip
    emergency_steps = models.TextField(
        max_length=4000, blank=True, help_text="What to do in an emergency, one step a line, as the plan writes it."
    )
    decides = models.CharField(
        max_length=120,
        blank=True,
        help_text="Who decides, such as the school nurse. Empty: those whom the plan names.",
    )

    objects = DatedQuerySet["Caution"].as_manager()

    class Meta(CareRow.Meta):
        ordering = ["student", "kind", "id"]

    def __str__(self) -> str:
        return f"{self.student.code}: {self.get_kind_display()} caution"
