"""What happened, or is known to be going to happen, to a day: said once, and taken back whole."""

import uuid
from typing import Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.dates import date_words, span_words
from accounts.models import DistrictRow, Person, ScopedQuerySet, Substitution
from caseload.plans.grades import read_grades
from caseload.plans.models import SchoolClass, Student
from schedule.calendar.happened import HappeningKind
from travel.places.models import Building, Space

KIND_WORDS = {
    HappeningKind.AWAY: "Ill or away",
    HappeningKind.LATE: "Late or stuck",
    HappeningKind.CLOSED: "School closed",
    HappeningKind.DELAYED_OPENING: "Delayed opening",
    HappeningKind.EARLY_DISMISSAL: "Early dismissal",
    HappeningKind.SPACE_TAKEN: "Space taken",
    HappeningKind.CLASS_AWAY: "Class away",
    HappeningKind.STUDENT_ABSENT: "Student absent",
    HappeningKind.AIDE_MISSING: "Aide missing",
}
NEEDS = {
    HappeningKind.AWAY: ("teacher",),
    HappeningKind.LATE: ("teacher", "start", "end"),
    HappeningKind.SPACE_TAKEN: ("space",),
    HappeningKind.CLASS_AWAY: ("school_class",),
    HappeningKind.STUDENT_ABSENT: ("student",),
    HappeningKind.AIDE_MISSING: ("teacher",),
}
MISSING = {
    "teacher": "Choose the teacher.",
    "space": "Choose the space.",
    "school_class": "Choose the class.",
    "student": "Choose the student.",
    "start": "Give the time from which.",
    "end": "Give the time until which.",
}


class HappeningQuerySet(ScopedQuerySet["Happening"]):
    """A teacher sees the own and what is about schools and own students; a substitute that of who is covered."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role; an office sees in its calendar and feed what it needs, and none of these."""
        if viewer.is_coordinator:
            return self
        if viewer.sees_no_students_in_weeks:
            return self.none()
        shared = Q(teacher=None, student=None) | Q(student__in=Student.objects.visible_to(viewer))
        if viewer.role != Person.Role.SUBSTITUTE:
            return self.filter(shared | Q(teacher=viewer))
        covers = Substitution.objects.filter(
            substitute=viewer,
            teacher=OuterRef("teacher"),
            first_date__lte=OuterRef("last_date"),
            last_date__gte=OuterRef("first_date"),
        )
        return self.filter(shared | Exists(covers))

    def standing(self) -> Self:
        """What wasn't taken back."""
        return self.filter(taken_back_at=None)


class Happening(DistrictRow):
    """One thing that happened on some dates, for everyone whom it concerns.

    What closes schools or changes their hours stands in the calendar as well, as entries that name it. Times are
    local to the building; none: all day. `goes_on`: sessions are held all the same, elsewhere or without the aide.
    `logged_until`: the last date whose sessions it has logged. `sending` is what its log entries are known by.
    """

    kind = models.CharField(max_length=16, choices=[(one.value, words) for one, words in KIND_WORDS.items()])
    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, null=True, blank=True, related_name="happenings")
    buildings = models.ManyToManyField(
        Building, blank=True, related_name="happenings", help_text="None: every school."
    )
    space = models.ForeignKey(Space, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    school_class = models.ForeignKey(SchoolClass, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, null=True, blank=True, related_name="happenings")
    grades = models.CharField(max_length=40, blank=True, help_text="Such as K or K-2. Empty: every grade.")
    first_date = models.DateField()
    last_date = models.DateField()
    start = models.TimeField(null=True, blank=True)
    end = models.TimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="By how much late, delayed or dismissed early."
    )
    goes_on = models.BooleanField("the sessions are held all the same", default=False)
    note = models.CharField(max_length=200, blank=True, help_text="No student's name.")
    covers = models.ManyToManyField(
        Substitution,
        blank=True,
        editable=False,
        related_name="arranged_for",
        help_text="Who stands in, as it was arranged for this absence: taken back with it.",
    )
    said_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    said_at = models.DateTimeField(auto_now_add=True)
    taken_back_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    sending = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    logged_until = models.DateField(null=True, blank=True, editable=False)

    objects = HappeningQuerySet.as_manager()

    class Meta:
        ordering = ["first_date", "start", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="happening_ends_after_start",
                violation_error_message="The last date is before the first.",
            ),
            models.CheckConstraint(
                condition=Q(start=None) | Q(end=None) | Q(end__gt=F("start")),
                name="happening_time_ends_after_start",
                violation_error_message="The time until which is not after the time from which.",
            ),
        ]

    def __str__(self) -> str:
        one_day = self.first_date == self.last_date
        when = date_words(self.first_date) if one_day else span_words(self.first_date, self.last_date)
        return f"{self.get_kind_display()}, {when}"

    def clean(self) -> None:
        """Ask for what its kind needs, and for grades that can be read."""
        needed = NEEDS.get(HappeningKind(self.kind), ()) if self.kind in set(HappeningKind) else ()
        missing = {name: MISSING[name] for name in needed if getattr(self, name) is None}
        try:
            read_grades(self.grades)
        except ValueError as error:
            missing["grades"] = str(error)
        if missing:
            raise ValidationError(missing)
