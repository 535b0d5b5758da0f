"""How long a district keeps which records, what holds a student's back, what parents were told, what was erased."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import District, DistrictRow, Person, ScopedQuerySet
from caseload.plans.models import Student
from caseload.retention.schedule import EVENTS, KIND_CHOICES, KINDS, KeepingRule, events_of
from jobs.models import Job

LONGEST = 100
"""Years."""


class RetentionQuerySet[M: models.Model](ScopedQuerySet[M]):
    """The coordinator's; nobody else reads it."""

    def narrowed_for(self, viewer: Person) -> "RetentionQuerySet[M]":
        """Everything of the district, or nothing."""
        return self if viewer.has_perm("records.keep") else self.none()


class RetentionRule(DistrictRow):
    """How long records of a kind are kept, from a day on. Without one they are kept without end."""

    kind = models.CharField("records", max_length=12, choices=KIND_CHOICES)
    years = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST)],
        help_text="Empty: kept without end.",
    )
    counts_from = models.CharField(max_length=8, choices=list(EVENTS.items()))
    first_day = models.DateField(help_text="The rule holds from this day, until another of its kind does.")
    decided_by = models.CharField(
        max_length=200, help_text="Who decided it in the district, and where it is written."
    )
    keeps_permanent = models.BooleanField(
        default=True,
        db_default=True,
        help_text="Keep name, grade, schools, classes and years of students whose records are erased.",
    )

    objects = RetentionQuerySet["RetentionRule"].as_manager()

    class Meta:
        verbose_name = "rule for keeping records"
        verbose_name_plural = "rules for keeping records"
        ordering = ["kind", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "kind", "first_day"],
                name="retention_rule_once",
                violation_error_message="Another rule for these records begins on this day. Change that one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} from {self.first_day:%Y-%m-%d}"

    @property
    def rule(self) -> KeepingRule:
        """As the pure rules take it."""
        return KeepingRule(self.pk, self.kind, self.years, self.counts_from, self.first_day, self.keeps_permanent)

    def clean(self) -> None:
        """Refuse an event that records of the kind don't have."""
        if self.kind in KINDS and self.counts_from not in events_of(self.kind):
            words = " or ".join(f"“{EVENTS[one]}”" for one in events_of(self.kind))
            raise ValidationError({"counts_from": f"For these records choose {words}."})


class OfRetainedStudentQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their student, for who answers for keeping."""

    def visible_to(self, viewer: object) -> "OfRetainedStudentQuerySet[M]":
        """The coordinator's."""
        if not isinstance(viewer, Person) or not viewer.has_perm("records.keep"):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))


class ErasureHold(models.Model):
    """A reason for which nothing of a student is erased from one day to another, whatever the rules say."""

    class Reason(models.TextChoices):
        """Why the records are needed."""

        DISPUTE = "dispute", "A dispute, complaint or hearing is open"
        LITIGATION = "litigation", "A court case, or one that is expected"
        AUDIT = "audit", "An audit or review"
        OTHER = "other", "Another reason"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="erasure_holds")
    reason = models.CharField(max_length=12, choices=Reason)
    words = models.CharField("what it is about", max_length=300, help_text="Such as the number of the case.")
    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True, help_text="Empty: until further notice.")

    objects = OfRetainedStudentQuerySet["ErasureHold"].as_manager()

    class Meta:
        ordering = ["student", "first_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="erasure_hold_ends_after_start",
                violation_error_message="The last day is before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.student.code} from {self.first_day:%Y-%m-%d}"

    @property
    def district(self) -> District:
        """The student's."""
        return self.student.district


class ParentsWord(models.Model):
    """Parents were told that records are no longer needed, or asked to have them destroyed (34 CFR 300.624)."""

    class Kind(models.TextChoices):
        """Who spoke."""

        TOLD = "told", "Parents were told that the records are no longer needed"
        ASKED = "asked", "Parents asked to have the records destroyed"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="parents_words")
    kind = models.CharField("what was said", max_length=6, choices=Kind)
    said_on = models.DateField("on")
    how = models.CharField(max_length=200, help_text="By letter, at a meeting, and where the paper lies.")

    objects = OfRetainedStudentQuerySet["ParentsWord"].as_manager()

    class Meta:
        verbose_name = "word with parents"
        verbose_name_plural = "words with parents"
        ordering = ["student", "said_on", "id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.said_on:%Y-%m-%d}"

    @property
    def district(self) -> District:
        """The student's."""
        return self.student.district


class ErasureRun(DistrictRow):
    """A list of what would be erased, made on a day; once it is confirmed, that was erased.

    `listed` holds ids and counts, no name (schedule.erasing.listing). `digest` is the SHA-256 of its canonical
    form: who confirms says it, and another list is not erased by it.
    """

    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(help_text="UTC")
    as_of = models.DateField(help_text="Rules and events count up to this day.")
    student_number = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Of one student, whose parents asked: the student's id."
    )
    digest = models.CharField(max_length=64)
    listed = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    confirmed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    job = models.ForeignKey(Job, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    kept = models.JSONField(default=list, blank=True, help_text="What was held back after all: ids and reasons.")
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = RetentionQuerySet["ErasureRun"].as_manager()

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"List of {self.as_of:%Y-%m-%d}"


class ErasedRows(DistrictRow):
    """Records of one kind, of one student or of the district, that were erased: counts by table, no names."""

    run = models.ForeignKey(ErasureRun, on_delete=models.PROTECT, related_name="erased")
    rule_number = models.PositiveBigIntegerField(null=True, blank=True, help_text="By which rule: its id.")
    kind = models.CharField(max_length=12, choices=KIND_CHOICES)
    student_number = models.PositiveBigIntegerField(null=True, blank=True, help_text="The id that the student had.")
    at = models.DateTimeField(help_text="UTC")
    parents_told_on = models.DateField(null=True, blank=True)
    tables = models.JSONField(default=dict, help_text="How many rows of which table.")

    objects = RetentionQuerySet["ErasedRows"].as_manager()

    class Meta:
        verbose_name_plural = "erased rows"
        ordering = ["run", "id"]
        constraints = [
            models.UniqueConstraint(fields=["run", "kind", "student_number"], name="erased_once_a_run"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.student_number or ''}".strip()

    @property
    def rows(self) -> int:
        """How many."""
        return sum(self.tables.values())


class PermanentRecord(DistrictRow):
    """What may be kept of a student without limit of time (34 CFR 300.624(b)), of what the program knows.

    `schools` are the stays: building, grade, class, first and last day, each as text.
    """

    code = models.CharField(max_length=20)
    first_name = models.CharField(max_length=60)
    last_name = models.CharField(max_length=60)
    grade = models.CharField(max_length=3, help_text="The last one.")
    year_completed = models.CharField(max_length=40, blank=True)
    schools = models.JSONField(default=list)
    made_at = models.DateTimeField(help_text="UTC")

    objects = RetentionQuerySet["PermanentRecord"].as_manager()

    class Meta:
        ordering = ["last_name", "first_name", "id"]

    def __str__(self) -> str:
        return self.code


def hold_is_on(hold: ErasureHold, day: dt.date) -> bool:
    """Whether it holds on a day."""
    return hold.first_day <= day and (hold.last_day is None or hold.last_day >= day)
