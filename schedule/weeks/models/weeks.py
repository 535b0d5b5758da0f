"""Planned weeks: runs of the planner, versions of a week, and what is in each."""

import uuid
from typing import Self

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.dates import date_words, span_words
from accounts.models import DistrictRow, Person, ScopedQuerySet, Substitution
from caseload.plans.models import SchoolClass, ServiceLine, Student
from jobs.models import Job
from schedule.calendar.models.teacher import OfTeacherQuerySet
from schedule.weeks.aims import AIM_WORDS, Aim
from travel.places.models import Building, BuildingStaff, Space, reviewed_at


class PlanRun(DistrictRow):
    """One press of the button: the planner at work on a range of dates for one teacher."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="plan_runs")
    requested_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    requested_at = models.DateTimeField(auto_now_add=True)
    first_date = models.DateField()
    last_date = models.DateField()
    first_time = models.TimeField(
        null=True,
        blank=True,
        help_text="On the first date, what had begun by then stays, as on earlier dates; empty for whole weeks.",
    )
    seed = models.PositiveIntegerField(default=1)
    time_limit = models.PositiveSmallIntegerField(default=20, help_text="Seconds of search a week.")
    keep_pins = models.BooleanField(default=True)
    aim = models.CharField(
        max_length=13,
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        default=Aim.USUAL_TIMES.value,
        blank=True,
        help_text="What comes first after owed minutes and wishes; empty for make-ups, which move nothing.",
    )
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="plan_run")
    summary = models.JSONField(default=dict, encoder=DjangoJSONEncoder, help_text="Figures by goal; no names.")
    kept = models.JSONField(
        default=dict,
        db_default={},
        blank=True,
        encoder=DjangoJSONEncoder,
        help_text="What it has found so far, so that it can go on after an interruption; empty once it is over.",
    )

    objects = OfTeacherQuerySet["PlanRun"].as_manager()

    class Meta:
        ordering = ["-requested_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="plan_run_ends_after_start",
                violation_error_message="The last date is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{span_words(self.first_date, self.last_date)}"


class WeekPlanQuerySet(ScopedQuerySet["WeekPlan"]):
    """Teachers see their own weeks and published ones of mates; offices and substitutes see published ones only."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role; what an office sees of a week is cut down further by schedule.weeks.selectors."""
        if viewer.is_coordinator:
            return self
        if viewer.is_teacher:
            return self.filter(self._shared_with(viewer) | Q(teacher=viewer))
        published = self.filter(status=WeekPlan.Status.PUBLISHED)
        if viewer.role == Person.Role.SUBSTITUTE:
            substitutions = Substitution.objects.filter(
                substitute=viewer,
                teacher=OuterRef("teacher"),
                first_date__lte=OuterRef("last_date"),
                last_date__gte=OuterRef("monday"),
            )
            return published.filter(Exists(substitutions))
        if viewer.is_reviewer:
            at = reviewed_at(viewer, "building", "date") | reviewed_at(viewer, "students_from", "date")
            return published.filter(Exists(PlannedSession.objects.filter(at, week=OuterRef("pk"))))
        schools = BuildingStaff.objects.filter(person=viewer).values("building")
        there = Q(building__in=schools) | Q(students_from__in=schools)
        return published.filter(Exists(PlannedSession.objects.filter(there, week=OuterRef("pk"))))

    def _shared_with(self, teacher: Person) -> Q:
        """Published weeks of mates that have a day of the team."""
        found = Q(pk__in=())
        for one in teacher.mates:
            days = Q(last_date__gte=one.first_day, monday__lte=one.last_day)
            found |= Q(days, teacher=one.person_id, status=WeekPlan.Status.PUBLISHED)
        return found


class WeekPlan(DistrictRow):
    """One version of one teacher's week. Published versions are never edited; a change makes the next one."""

    class Status(models.TextChoices):
        """Where a version stands."""

        DRAFT = "draft", "Draft"
        PUBLISHED = "published", "In force"
        REPLACED = "replaced", "Replaced"
        DISCARDED = "discarded", "Discarded"

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="weeks")
    monday = models.DateField()
    last_date = models.DateField(help_text="Sunday of the week, so that overlaps are asked in one place.")
    status = models.CharField(max_length=10, choices=Status, default=Status.DRAFT)
    version = models.PositiveIntegerField(null=True, blank=True, help_text="Set when published; 1, 2, 3, …")
    revision = models.PositiveIntegerField(default=1, help_text="Rises with every edit: two editors are noticed.")
    name = models.CharField(max_length=60, blank=True)
    based_on = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    plan_run = models.ForeignKey(PlanRun, on_delete=models.SET_NULL, null=True, blank=True, related_name="weeks")
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    published_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    published_at = models.DateTimeField(null=True, blank=True)
    figures = models.JSONField(default=dict, encoder=DjangoJSONEncoder, help_text="By goal: value, bound, status.")
    changes = models.JSONField(default=list, encoder=DjangoJSONEncoder, help_text="Against the version before.")

    objects = WeekPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-monday", "-created_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "monday"], condition=Q(status="published"), name="one_week_in_force"
            ),
            models.UniqueConstraint(
                fields=["teacher", "monday", "version"],
                condition=Q(version__isnull=False),
                name="week_version_once",
            ),
        ]

    def __str__(self) -> str:
        return f"Week of {date_words(self.monday)}"


def all_seen_by(viewer: Person) -> bool:
    """Whether somebody who may see a week sees every row of it, and of each that they may see."""
    return viewer.role in {Person.Role.TEACHER, Person.Role.COORDINATOR} and not viewer.mates


def of_mates(viewer: Person) -> Q:
    """A condition on rows of weeks: the viewer's own, and of mates' those on days of their team."""
    found = Q(week__teacher=viewer)
    for one in viewer.mates:
        found |= Q(week__teacher=one.person_id, date__range=(one.first_day, one.last_day))
    return found


class OfWeekQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their `week`; an office sees rows in its own buildings, a reviewer what is reviewed."""

    def visible_to(self, viewer: object) -> "OfWeekQuerySet[M]":
        """Rows of the weeks that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        rows = self.filter(week__in=WeekPlan.objects.visible_to(viewer))
        if all_seen_by(viewer):
            return rows
        if viewer.is_teacher:
            return rows.filter(of_mates(viewer))
        if viewer.role == Person.Role.OFFICE:
            return rows.filter(self._of_office(viewer))
        if viewer.is_reviewer:
            school = "students_from" if self.model is PlannedSession else "building"
            return rows.filter(reviewed_at(viewer, "building", "date") | reviewed_at(viewer, school, "date"))
        return rows.filter(self._covered(viewer))

    def _of_office(self, viewer: Person) -> Q:
        """At the viewer's schools, and sessions held elsewhere for their students."""
        schools = BuildingStaff.objects.filter(person=viewer).values("building")
        here = Q(building__in=schools)
        return here | Q(students_from__in=schools) if self.model is PlannedSession else here

    def _covered(self, substitute: Person) -> Exists:
        """Of the days that the substitute stands in for; of sessions, those that are the substitute's to give."""
        covers = Substitution.objects.filter(
            substitute=substitute,
            teacher=OuterRef("week__teacher"),
            first_date__lte=OuterRef("date"),
            last_date__gte=OuterRef("date"),
        )
        return Exists(covers.of_session(OuterRef("uid")) if self.model is PlannedSession else covers)


class PlannedSession(models.Model):
    """One class meeting on one date. `uid` stays the same from version to version as long as it is the same one."""

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="sessions")
    uid = models.UUIDField(default=uuid.uuid4, db_index=True)
    date = models.DateField()
    start = models.TimeField(help_text="Local to the building.")
    end = models.TimeField()
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="planned_sessions")
    space = models.ForeignKey(Space, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    students_from = models.ForeignKey(
        Building,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="The students' own school, if it is held in another building.",
    )
    school_class = models.ForeignKey(
        SchoolClass, on_delete=models.PROTECT, null=True, blank=True, related_name="planned_sessions"
    )
    setting = models.CharField(max_length=12, choices=ServiceLine.Setting)
    period = models.CharField(max_length=40, blank=True)
    cycle_day = models.CharField(max_length=12, blank=True)
    pinned = models.BooleanField(default=False)
    makes_up = models.BooleanField(
        default=False, help_text="A make-up: it answers minutes owed before and isn't owed itself."
    )
    makes_up_for = models.DateField(
        null=True, blank=True, help_text="The day of the missed session that it makes up, if it is for one."
    )
    planner_key = models.CharField(max_length=400, help_text="The planner's id of the service or group.")

    objects = OfWeekQuerySet["PlannedSession"].as_manager()

    class Meta:
        ordering = ["date", "start"]
        constraints = [
            models.UniqueConstraint(fields=["week", "uid"], name="session_uid_once_a_week"),
            models.CheckConstraint(
                condition=Q(makes_up=True) | Q(makes_up_for__isnull=True),
                name="session_makes_up_for_a_day",
                violation_error_message="Only a make-up can name a day that it makes up for.",
            ),
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="session_ends_after_start",
                violation_error_message="The session ends before it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.date} {self.start}"

    @property
    def school_names(self) -> dict[int, str]:
        """By id, where it is held and, if that is another building, where its students are at school."""
        return {one.pk: one.name for one in (self.building, self.students_from) if one is not None}


class SessionAttendee(models.Model):
    """A student's service line served in a session."""

    session = models.ForeignKey(PlannedSession, on_delete=models.CASCADE, related_name="attendees")
    service_line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="planned_attendance")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="planned_attendance")

    class Meta:
        ordering = ["session", "student"]
        constraints = [
            models.UniqueConstraint(fields=["session", "service_line"], name="line_once_a_session"),
        ]

    def __str__(self) -> str:
        return self.student.code


class DayItem(models.Model):
    """What fills a day between sessions: a drive, lunch, preparation, a meeting."""

    class Kind(models.TextChoices):
        """What it is."""

        DRIVE = "drive", "Drive"
        LUNCH = "lunch", "Lunch"
        PREPARATION = "preparation", "Preparation"
        MEETING = "meeting", "Meeting"

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="items")
    date = models.DateField()
    kind = models.CharField(max_length=12, choices=Kind)
    start = models.TimeField()
    end = models.TimeField()
    origin = models.ForeignKey(Building, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    building = models.ForeignKey(
        Building,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it takes place; for a drive, where it goes.",
    )
    drive_minutes = models.PositiveSmallIntegerField(default=0, help_text="At the wheel, parking apart.")
    miles = models.DecimalField(max_digits=5, decimal_places=1, default=0)
    source = models.CharField(max_length=12, blank=True, help_text="Where the drive minutes come from.")
    title = models.CharField(max_length=80, blank=True)

    objects = OfWeekQuerySet["DayItem"].as_manager()

    class Meta:
        ordering = ["date", "start"]

    def __str__(self) -> str:
        return f"{self.date} {self.start} {self.get_kind_display()}"


class WeekRevision(models.Model):
    """What a draft held before one edit by hand, so that the edit can be undone; ids only, no names."""

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="revisions")
    number = models.PositiveIntegerField(help_text="The draft's revision that this content was.")
    content = models.JSONField(encoder=DjangoJSONEncoder)
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["week", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["week", "number"], name="week_revision_once"),
        ]

    def __str__(self) -> str:
        return f"Revision {self.number}"


class UnplacedSession(models.Model):
    """Owed sessions that found no place, with the reason in words and whom it would help to ask."""

    week = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="unplaced")
    service_line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="+")
    sessions = models.PositiveSmallIntegerField(default=1)
    minutes = models.PositiveSmallIntegerField(help_text="Minutes owed and left, in all.")
    reasons = models.JSONField(default=list, help_text="Sentences; codes in place of names.")
    ask = models.TextField(blank=True, help_text="Whom it would help to ask, and for what.")

    class Meta:
        ordering = ["week", "-minutes"]

    def __str__(self) -> str:
        return f"{self.minutes} minutes"
