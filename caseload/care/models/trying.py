"""What is tried with a student who came before the plan did, and what was seen."""

from django.db import models
from django.db.models import F, Q

from accounts.models import District, Person
from caseload.plans.models import Student
from caseload.plans.models.enrollment import OfStudentQuerySet


class Try(models.Model):
    """One thing to try with a student without a plan; later, what was seen of it.

    What helped, or what is to be avoided, becomes a provisional support.
    """

    class Kind(models.TextChoices):
        """What is to be found out."""

        CALMS = "calms", "What calms"
        DRAWS = "draws", "What draws"
        ASK = "ask", "How to ask"
        STEPS = "steps", "How many steps"
        AVOID = "avoid", "What to avoid"

    class Seen(models.TextChoices):
        """What came of it."""

        NOT_YET = "not_yet", "Not tried yet"
        HELPED = "helped", "It helped"
        MIXED = "mixed", "Sometimes"
        DID_NOT = "did_not", "It did not help"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="tries")
    kind = models.CharField(max_length=6, choices=Kind)
    text = models.CharField(max_length=200, help_text="What to try, such as a countdown on the fingers.")
    outcome = models.CharField(max_length=8, choices=Seen, default=Seen.NOT_YET)
    seen = models.TextField(
        max_length=2000, blank=True, help_text="What was seen: what happened, not what it means."
    )
    seen_on = models.DateField(null=True, blank=True)
    seen_by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    support = models.ForeignKey(
        "caseload.Support", on_delete=models.SET_NULL, null=True, blank=True, editable=False, related_name="tries"
    )

    objects = OfStudentQuerySet["Try"].as_manager()

    class Meta:
        verbose_name_plural = "tries"
        ordering = ["student", "kind", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome="not_yet") | Q(seen_on__isnull=False),
                name="try_seen_on_a_day",
                violation_error_message="Say on which day this was seen.",
            ),
            models.UniqueConstraint(
                F("student"), F("kind"), F("text"),
                name="try_once",
                violation_error_message="This is already on the list.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.student.code}: {self.get_kind_display()}"

    @property
    def helped(self) -> bool:
        """Whether it helped, even if only sometimes."""
        return self.outcome in {self.Seen.HELPED, self.Seen.MIXED}

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district
