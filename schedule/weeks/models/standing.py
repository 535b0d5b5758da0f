"""Standing timetables: when and where each session stands, in each kind of week, between two dates."""

from typing import Self

from django.db import models
from django.db.models import F, Q

from accounts.dates import span_words
from accounts.models import DistrictRow, Person
from caseload.plans.models import SchoolClass, ServiceLine, Student
from schedule.calendar.models.teacher import OfTeacherQuerySet
from travel.places.models import Building, Space


class TimetableQuerySet(OfTeacherQuerySet["TimetableVersion"]):
    """A teacher's own, and for a coordinator the district's."""

    def in_force(self) -> Self:
        """Those published and not taken back, the one published last first: that one counts on a date."""
        rows = self.filter(published_at__isnull=False, taken_back_at__isnull=True)
        return rows.order_by("-published_at", "-pk")


class TimetableVersion(DistrictRow):
    """One version of a teacher's standing timetable, never rewritten: a change makes the next, from its first day.

    A draft until it is published; on a date the one published last that holds then is in force, unless it was
    taken back.
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="timetables")
    first_day = models.DateField()
    last_day = models.DateField()
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    published_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    published_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = TimetableQuerySet.as_manager()

    class Meta:
        ordering = ["-first_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="standing_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True) | Q(published_at__isnull=False),
                name="standing_taken_back_once_published",
                violation_error_message="Only what was published can be taken back.",
            ),
        ]

    def __str__(self) -> str:
        return f"Standing timetable, {span_words(self.first_day, self.last_day)}"

    @property
    def is_in_force(self) -> bool:
        """Whether it is published and not taken back; on which dates is another question."""
        return self.published_at is not None and self.taken_back_at is None


class TimetableSession(models.Model):
    """Where one session stands: a weekday, a weekday of A or B weeks, or a cycle day, and a time.

    ``weekday`` counts from Monday, 0; empty where the cycle day alone says when.
    """

    timetable = models.ForeignKey(TimetableVersion, on_delete=models.CASCADE, related_name="sessions")
    planner_key = models.CharField(max_length=400, help_text="The planner's id of the service or group.")
    weekday = models.PositiveSmallIntegerField(null=True, blank=True)
    cycle_day = models.CharField(max_length=12, blank=True)
    start = models.TimeField(help_text="Local to the building.")
    end = models.TimeField()
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="standing_sessions")
    space = models.ForeignKey(Space, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    school_class = models.ForeignKey(SchoolClass, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    setting = models.CharField(max_length=12, choices=ServiceLine.Setting)

    class Meta:
        ordering = ["timetable", "weekday", "cycle_day", "start", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="standing_session_ends_after_start",
                violation_error_message="The session ends before it starts.",
            ),
            models.CheckConstraint(
                condition=Q(weekday__isnull=True) | Q(weekday__lte=6),
                name="standing_session_weekday",
                violation_error_message="A weekday is 0 for Monday to 6 for Sunday.",
            ),
            models.CheckConstraint(
                condition=Q(weekday__isnull=False) | ~Q(cycle_day=""),
                name="standing_session_has_a_day",
                violation_error_message="Say on which weekday or cycle day it stands.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cycle_day or self.weekday} {self.start}"


class TimetableAttendee(models.Model):
    """A student's service line in a standing session."""

    session = models.ForeignKey(TimetableSession, on_delete=models.CASCADE, related_name="attendees")
    service_line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="standing_attendance")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="standing_attendance")

    class Meta:
        ordering = ["session", "student"]
        constraints = [
            models.UniqueConstraint(fields=["session", "service_line"], name="line_once_a_standing_session"),
        ]

    def __str__(self) -> str:
        return self.student.code
