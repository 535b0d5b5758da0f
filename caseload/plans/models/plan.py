"""Individual plans and the service lines in them."""

import datetime as dt
from typing import Any, Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import span_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.enrollments import buildings_between
from caseload.plans.frequency import Frequency, FrequencyUnit, reading_words, write_frequency
from caseload.plans.models.enrollment import enrollment_nearest, stays_of
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.service import ContinuingService
from caseload.plans.models.student import Student
from travel.places.models import Building, Space, reviewed_between


class PlanQuerySet(ScopedQuerySet["Plan"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "PlanQuerySet":
        """Plans of the students whom the viewer may see; for a reviewer those of the dates that are seen."""
        if not isinstance(viewer, Person):
            return self.none()
        rows = self.filter(student__in=Student.objects.visible_to(viewer))
        return rows.filter(reviewed_between(viewer, "start", "end")) if viewer.is_reviewer else rows


class Plan(models.Model):
    """A student's individual plan, or what is done until one comes (34 CFR 300.320, 300.323)."""

    class Status(models.TextChoices):
        """Whether the plan is there yet."""

        PROVISIONAL = "provisional", "No plan yet: provisional"
        IN_FORCE = "in_force", "In force"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="plans")
    status = models.CharField(max_length=12, choices=Status, default=Status.IN_FORCE)
    start = models.DateField()
    end = models.DateField(help_text="Last day on which the plan's services are owed.")
    annual_review = models.DateField(
        null=True, blank=True, help_text="Reviewed at least annually (34 CFR 300.324)."
    )
    note = models.TextField(blank=True)

    objects = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["student", "-start"]
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gte=F("start")),
                name="plan_ends_after_start",
                violation_error_message="The plan ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student.code} from {self.start}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    @property
    def is_provisional(self) -> bool:
        """Whether this stands in for a plan that hasn't come yet."""
        return self.status == self.Status.PROVISIONAL


class ServiceLineQuerySet(ScopedQuerySet["ServiceLine"]):
    """Scoped through the student; for the planner, by provider and dates."""

    def visible_to(self, viewer: object) -> "ServiceLineQuerySet":
        """Lines of the students whom the viewer may see; for a reviewer those of the dates that are seen."""
        if not isinstance(viewer, Person):
            return self.none()
        rows = self.filter(plan__student__in=Student.objects.visible_to(viewer))
        return rows.filter(reviewed_between(viewer, "start", "end")) if viewer.is_reviewer else rows

    def owed_between(self, first: object, last: object) -> Self:
        """Lines in force on any day of a range (both ends included)."""
        return self.filter(start__lte=last, end__gte=first)


WAY_TO_NOWHERE = "Minutes on the way belong to a space in another building. Choose that space, or enter 0."


class ServiceLine(models.Model):
    """What a plan owes: so often, so long, in this setting, from this date to that (34 CFR 300.320(a)(7)).

    The frequency is kept as its parts (see caseload.plans.frequency.Frequency) and as the plan's own `statement`.
    A line is one version of the terms of a continuing `service`.
    """

    class Type(models.TextChoices):
        """Direct service, or consultation with those who teach the student."""

        DIRECT = "direct", "Direct"
        CONSULTATION = "consultation", "Consultation"

    class Setting(models.TextChoices):
        """Where and with whom the service takes place."""

        OWN_CLASS = "own_class", "Own class"
        PUSH_IN = "push_in", "Pushed into a general class"
        SMALL_GROUP = "small_group", "Small group"
        ONE_TO_ONE = "one_to_one", "One to one"

    class Unit(models.TextChoices):
        """Per what a frequency counts."""

        DAY = "day", "day in session"
        WEEK = "week", "week"
        CYCLE = "cycle", "cycle of days"
        MONTH = "month", "month"
        MARKING_PERIOD = "marking_period", "marking period"
        QUARTER = "quarter", "quarter"
        TRIMESTER = "trimester", "trimester"
        SEMESTER = "semester", "semester"
        YEAR = "year", "year"
        TOTAL = "total", "in all"

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="lines")
    service = models.ForeignKey(
        ContinuingService, on_delete=models.CASCADE, blank=True, editable=False, related_name="versions"
    )
    provider = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="service_lines")
    building = models.ForeignKey(
        Building,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it is given, for a student at two places. Empty: at the student's school.",
    )
    service_type = models.CharField(max_length=12, choices=Type, default=Type.DIRECT)
    setting = models.CharField(max_length=12, choices=Setting, default=Setting.SMALL_GROUP)
    statement = models.CharField(max_length=120, help_text="As the plan writes it, such as 2 x 30 min/week.")
    times = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    minutes = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(5), MaxValueValidator(480)],
        help_text="A session.",
    )
    minutes_total = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(5)],
        help_text="A period, where no count is given.",
    )
    unit = models.CharField(max_length=14, choices=Unit, default=Unit.WEEK)
    cycle_days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(2), MaxValueValidator(10)]
    )
    weeks_on = models.PositiveSmallIntegerField(null=True, blank=True, help_text="3 in “3 of 4 weeks”.")
    weeks_of = models.PositiveSmallIntegerField(null=True, blank=True, help_text="4 in “3 of 4 weeks”.")
    reading_chosen = models.BooleanField(
        default=False, help_text="The statement can mean two things, and a person chose what it is read as."
    )
    start = models.DateField()
    end = models.DateField()
    extended_year = models.BooleanField(
        "for the extended school year",
        default=False,
        help_text="The plan names this service for the extended school year: it is owed in that season alone.",
    )
    pushed_into = models.ForeignKey(
        SchoolClass,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="pushed_in_lines",
        help_text="The general class, for a pushed-in service.",
    )
    largest_group = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(30)], help_text="Students at one time."
    )
    allowed_spaces = models.ManyToManyField(Space, blank=True, help_text="None chosen: any space that fits.")
    held_in = models.ForeignKey(
        Space,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="lines_from_elsewhere",
        help_text="A space of another building to which the students go, such as a pool. Empty: at the student's.",
    )
    way_minutes = models.PositiveSmallIntegerField(
        "minutes on the way",
        default=0,
        db_default=0,
        validators=[MaxValueValidator(60)],
        help_text="What the students need to get there, and as much to get back.",
    )
    days_apart = models.PositiveSmallIntegerField(
        default=1,
        validators=[MaxValueValidator(4)],
        help_text="0: may meet twice a day; 1: on different days; 2: …",
    )

    objects = ServiceLineQuerySet.as_manager()

    class Meta:
        ordering = ["plan", "start", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gte=F("start")),
                name="line_ends_after_start",
                violation_error_message="The service ends before it begins.",
            ),
            models.CheckConstraint(
                condition=Q(times__isnull=False, minutes__isnull=False, minutes_total__isnull=True)
                | Q(times__isnull=True, minutes_total__isnull=False),
                name="line_counts_or_minutes",
                violation_error_message="Give times and minutes a session, or minutes a period.",
            ),
            models.CheckConstraint(
                condition=~Q(unit="cycle") | Q(cycle_days__isnull=False),
                name="line_cycle_has_days",
                violation_error_message="Say how many days the cycle has.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan.student.code}: {self.statement}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """A line that continues no service begins one."""
        if not self.names_service:
            self.service = ContinuingService.objects.create(student=self.plan.student)
        super().save(*args, **kwargs)

    @property
    def frequency(self) -> Frequency:
        """What the statement was read as; raises `FrequencyError` for parts that make none."""
        unit = FrequencyUnit(self.unit)
        weekly = unit is FrequencyUnit.WEEK
        return Frequency(
            times=self.times,
            minutes=self.minutes if self.times is not None else None,
            minutes_total=self.minutes_total,
            unit=unit,
            cycle_days=self.cycle_days if unit is FrequencyUnit.CYCLE else None,
            weeks_on=self.weeks_on if weekly else None,
            weeks_of=self.weeks_of if weekly else None,
        )

    @property
    def reading(self) -> str:
        """What the statement was read as, in its canonical text."""
        return write_frequency(self.frequency)

    @property
    def read_as(self) -> str:
        """What the statement was read as, with the sum: 2 x 30 = 60 minutes a week."""
        return reading_words(self.frequency)

    @property
    def names_service(self) -> bool:
        """Whether it is said which service it is a version of."""
        return getattr(self, "service_id", None) is not None

    @property
    def student(self) -> Student:
        """The plan's student."""
        return self.plan.student

    @property
    def district(self) -> District:
        """The student's district."""
        return self.plan.student.district

    def building_on(self, day: dt.date) -> Building:
        """Where it is given on a date; where the student was last, or will be first, on days away."""
        return enrollment_nearest(self.plan.student, day, self.building_id).building

    def places(self, first: dt.date = dt.date.min, last: dt.date = dt.date.max) -> frozenset[int]:
        """The buildings where the student is on the line's days, perhaps only on those from a day to a day.

        The building of the student's record if that is nowhere.
        """
        begins, ends = max(self.start or first, first), min(self.end or last, last)
        found = buildings_between(stays_of(self.plan.student), begins, ends, self.building_id)
        return frozenset(found or {self.plan.student.building_id})

    def clean(self) -> None:
        """Hold the line against its plan and its setting."""
        problems = {**self._dates_problems(), **self._setting_problems()}
        if self.provider_id and self.provider.district_id != self.plan.student.district_id:
            problems["provider"] = "This teacher isn't in the district."
        if problems:
            raise ValidationError(problems)

    def _dates_problems(self) -> dict[str, str]:
        """What doesn't go with the plan's dates."""
        if not self.plan_id or not self.start or not self.end:
            return {}
        if self.start >= self.plan.start and self.end <= self.plan.end:
            return {}
        dates = span_words(self.plan.start, self.plan.end)
        return {"start": f"The plan runs from {dates}; keep the service inside it."}

    def _setting_problems(self) -> dict[str, str]:
        """What doesn't go with the setting."""
        found: dict[str, str] = {}
        if self.setting == self.Setting.PUSH_IN and self.pushed_into is None:
            found["pushed_into"] = "Choose the general class that the service is pushed into."
        if self.pushed_into is not None and self.pushed_into.building_id not in self.places():
            found["pushed_into"] = "This class isn't in the student's building."
        if self.building_id and self.building_id not in self.places():
            found["building"] = "The student isn't enrolled in this building. Enter the program there first."
        if self.setting == self.Setting.ONE_TO_ONE and self.largest_group != 1:
            found["largest_group"] = "One to one means a group of 1."
        return {**found, **self._elsewhere_problems()}

    def _elsewhere_problems(self) -> dict[str, str]:
        """What doesn't go with a space in another building."""
        if self.held_in is None:
            return {} if not self.way_minutes else {"way_minutes": WAY_TO_NOWHERE}
        if self.service_type == self.Type.CONSULTATION:
            return {"held_in": "A consultation needs no space. Leave this empty."}
        if self.setting == self.Setting.PUSH_IN:
            return {
                "held_in": "A pushed-in service is where its class is. Leave this empty, or change the setting."
            }
        if self.held_in.building.district_id != self.plan.student.district_id:
            return {"held_in": "This space isn't in the district."}
        if self.held_in.building_id in self.places():
            return {"held_in": "This space is at the student's own school. Choose it under the allowed spaces."}
        return {}
