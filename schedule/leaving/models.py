"""Who has the students of a teacher who leaves or is away for weeks."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words, span_words
from accounts.models import DistrictRow, ForCoordinatorsQuerySet, Person
from caseload.plans.models import Student


class TeacherLeave(DistrictRow):
    """Students of a teacher are with a colleague from a first day on, and go back on the day after the last.

    Without a last day they stay with the colleague. `handed` and `returned` are the entries of the log of changes
    by which the hand-overs there and back are taken back.
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="leaves")
    receiver = models.ForeignKey(
        Person, on_delete=models.CASCADE, related_name="leaves_taken", verbose_name="who takes the students"
    )
    first_day = models.DateField("first day away", help_text="Days before it stay with the teacher.")
    last_day = models.DateField(
        "last day away",
        null=True,
        blank=True,
        help_text="The students go back on the day after. Empty: the teacher leaves, and they stay.",
    )
    students = models.ManyToManyField(Student, related_name="+", help_text="Those who went over.")
    handed = models.PositiveBigIntegerField(help_text="The entry of the hand-over there.")
    returned = models.PositiveBigIntegerField(null=True, blank=True, help_text="The entry of the hand-over back.")

    objects = ForCoordinatorsQuerySet["TeacherLeave"].as_manager()

    class Meta:
        verbose_name = "leave"
        ordering = ["-first_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day=None) | Q(last_day__gte=F("first_day")),
                name="leave_ends_after_its_start",
                violation_error_message="The last day away is before the first.",
            ),
        ]

    def __str__(self) -> str:
        if self.last_day is None:
            return f"{self.teacher} leaves on {date_words(self.first_day)}"
        return f"{self.teacher} is away, {span_words(self.first_day, self.last_day)}"

    def clean(self) -> None:
        """Refuse a colleague who is the teacher, or in another district."""
        if self.receiver_id == self.teacher_id:
            raise ValidationError({"receiver": "Choose another teacher than the one who is away."}, code="same")
        if self.receiver_id and self.receiver.district_id != self.district_id:
            raise ValidationError({"receiver": "This teacher isn't in the district."}, code="other_district")
