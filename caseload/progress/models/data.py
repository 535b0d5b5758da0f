"""Data taken on goals. A point is never edited: it is taken back, and another one is taken."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.dates import date_words
from accounts.models import District, Person
from caseload.progress.models.goal import MOST, OfGoalQuerySet, StudentGoal


class DataPointQuerySet(OfGoalQuerySet["DataPoint"]):
    """Scoped through the student, and those that count."""

    def counted(self) -> "DataPointQuerySet":
        """Those that weren't taken back."""
        return self.filter(undone_at__isnull=True)


class DataPoint(models.Model):
    """What was seen once: one set of trials, one time, one count, one level.

    `value` is in the goal's own unit; of trials it is those done, and `tried` is how many there were. `marks` are
    the single trials in their order, where they were taken one by one. `client_id` is made by whoever sends it (on
    the phone, perhaps without signal): the same one sent twice is stored once, and two people who take data on one
    goal at once are both kept. `session_uid` is the planned session's, known by the floor above only.
    """

    client_id = models.UUIDField(unique=True)
    goal = models.ForeignKey(StudentGoal, on_delete=models.PROTECT, related_name="data")
    day = models.DateField(help_text="When it was seen, local to the building.")
    session_uid = models.UUIDField(null=True, blank=True, db_index=True)
    value = models.DecimalField(
        max_digits=8, decimal_places=2, validators=[MinValueValidator(0), MaxValueValidator(MOST)]
    )
    tried = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Of trials: how many there were.",
    )
    marks = models.CharField(
        max_length=100,
        blank=True,
        validators=[RegexValidator(r"\A[01]*\Z", "Only 1 for yes and 0 for no.")],
        help_text="Of trials: 1 for yes and 0 for no, in their order.",
    )
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_by_name = models.CharField(
        max_length=120, blank=True, help_text="Who took it, such as an aide, if not who is signed in."
    )
    taken_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC")
    note = models.TextField(blank=True, max_length=1000, validators=[MaxLengthValidator(1000)])
    undone_at = models.DateTimeField(null=True, blank=True, editable=False, help_text="UTC. It was taken back.")
    undone_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, editable=False, related_name="+")

    objects = DataPointQuerySet.as_manager()

    class Meta:
        verbose_name = "data point"
        verbose_name_plural = "data points"
        ordering = ["goal", "day", "id"]
        indexes = [models.Index(fields=["goal", "day"], name="data_point_goal_day")]
        constraints = [
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True, undone_by__isnull=True)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="data_point_undone_by_somebody",
                violation_error_message="Say who took it back.",
            ),
        ]

    def __str__(self) -> str:
        return f"Data of {date_words(self.day)}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.goal.student.district

    @property
    def student_id(self) -> int:
        """The goal's student."""
        return self.goal.student_id

    def clean(self) -> None:
        """Trials done are among those tried, and the marks say the same."""
        problems: dict[str, str] = {}
        if self.tried is not None and self.value is not None and self.value > self.tried:
            problems["value"] = f"Only {self.tried} were tried."
        if self.marks and (len(self.marks) != self.tried or Decimal(self.marks.count("1")) != self.value):
            problems["marks"] = "The marks don't add up to what was tried and done."
        if problems:
            raise ValidationError(problems)
