"""The draft of a school year: what is said of it so far. Nothing else of the program reads these tables."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, DistrictRow, ForCoordinatorsQuerySet, Person, ScopedQuerySet
from caseload.plans.grades import GRADE_CHOICES
from caseload.plans.models import SchoolClass, Student
from caseload.plans.models.school_class import validate_grades
from schedule.calendar.models import BellSchedule, CalendarEntry, SchoolYear
from travel.places.models import Building

ONE_DAY = dt.timedelta(days=1)


class OfYearDraftQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows of a draft, scoped through it."""

    def visible_to(self, viewer: object) -> "OfYearDraftQuerySet[M]":
        """Rows of the drafts that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(next_year__in=NextYear.objects.visible_to(viewer))


class NextYear(DistrictRow):
    """A coming school year as it is worked on, and once it is started what starting wrote.

    Days of it that nothing is said about are taken from the year that it was made from. `written` holds ids and
    dates of what starting wrote, by which it is taken back whole.
    """

    name = models.CharField(max_length=20, help_text="Such as 2027-28.")
    first_day = models.DateField(help_text="First day with students. What is said here holds from this day on.")
    last_day = models.DateField(help_text="Last day with students.")
    made_from = models.ForeignKey(
        SchoolYear, on_delete=models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )
    made_by = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True, editable=False)
    started_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    written = models.JSONField(default=dict, blank=True, editable=False, encoder=DjangoJSONEncoder)

    objects = ForCoordinatorsQuerySet["NextYear"].as_manager()

    class Meta:
        verbose_name = "next year"
        verbose_name_plural = "next years"
        ordering = ["-first_day", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["district"],
                condition=Q(started_at__isnull=True),
                name="next_year_one_draft",
                violation_error_message="A next year is being worked on already. Go on with that one.",
            ),
            models.CheckConstraint(
                condition=Q(last_day__gt=F("first_day")),
                name="next_year_ends_after_start",
                violation_error_message="The school year ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def eve(self) -> dt.date:
        """The day before its first: who is in a school then is asked about."""
        return self.first_day - ONE_DAY

    @property
    def is_started(self) -> bool:
        """Whether it was started and not taken back."""
        return self.started_at is not None


class NextYearRow(models.Model):
    """Base of what is said in a draft."""

    next_year: models.ForeignKey[NextYear]

    class Meta:
        abstract = True

    @property
    def district(self) -> District:
        """The draft's district."""
        return self.next_year.district


class NextYearPeriod(NextYearRow):
    """A marking period of the coming year."""

    next_year = models.ForeignKey(NextYear, on_delete=models.CASCADE, related_name="periods")
    name = models.CharField(max_length=20)
    first_day = models.DateField()
    last_day = models.DateField()

    objects = OfYearDraftQuerySet["NextYearPeriod"].as_manager()

    class Meta:
        verbose_name = "marking period of next year"
        verbose_name_plural = "marking periods of next year"
        ordering = ["first_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gt=F("first_day")),
                name="next_period_ends_after_start",
                violation_error_message="The marking period ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class NextYearDay(NextYearRow):
    """A special day of the coming year: one of this year's a year later, asked about, or one that was added."""

    class Answer(models.TextChoices):
        """What is said of it."""

        ASKED = "asked", "Not answered yet"
        KEPT = "kept", "Next year, too"
        LEFT_OUT = "left_out", "Not next year"

    next_year = models.ForeignKey(NextYear, on_delete=models.CASCADE, related_name="days")
    title = models.CharField(max_length=120, blank=True)
    kind = models.CharField(max_length=16, choices=CalendarEntry.Kind, default=CalendarEntry.Kind.CLOSED)
    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty for the whole district.",
    )
    first_date = models.DateField()
    last_date = models.DateField()
    bell_schedule = models.ForeignKey(
        BellSchedule,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty: the building's own schedule of this kind.",
    )
    closes_at = models.TimeField(
        null=True, blank=True, help_text="Of an early dismissal: when students go home. Empty: by its bells."
    )
    was_first = models.DateField(null=True, blank=True, editable=False)
    was_last = models.DateField(null=True, blank=True, editable=False)
    answer = models.CharField(max_length=8, choices=Answer, default=Answer.KEPT)

    objects = OfYearDraftQuerySet["NextYearDay"].as_manager()

    class Meta:
        verbose_name = "special day of next year"
        verbose_name_plural = "special days of next year"
        ordering = ["first_date", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="next_day_ends_after_start",
                violation_error_message="The last date is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{date_words(self.first_date)} {self.title or self.get_kind_display()}"

    @property
    def lacks_bells(self) -> bool:
        """Whether it is a day of another bell schedule and none is named, or the one that was is gone."""
        return self.kind == CalendarEntry.Kind.OTHER_BELL and self.bell_schedule_id is None

    def clean(self) -> None:
        """What the calendar refuses of a special day: others' bells, a time of a day that isn't shortened."""
        if self.bell_schedule is not None and self.bell_schedule.building_id != self.building_id:
            problem = "Choose the building that this bell schedule belongs to as well."
            raise ValidationError({"bell_schedule": problem}, code="other_building")
        if self.closes_at is not None and self.kind != CalendarEntry.Kind.EARLY_DISMISSAL:
            problem = "Only an early dismissal has a time at which students go home."
            raise ValidationError({"closes_at": problem}, code="not_early")


class NextYearBuilding(NextYearRow):
    """A building in the coming year: up to which grade, where those above it go, and whether its bells stay."""

    next_year = models.ForeignKey(NextYear, on_delete=models.CASCADE, related_name="buildings")
    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    highest_grade = models.CharField(
        max_length=3,
        choices=GRADE_CHOICES,
        blank=True,
        help_text="Who is in it now goes to the next building. Empty: as its level says.",
    )
    next_building = models.ForeignKey(
        Building, on_delete=models.CASCADE, null=True, blank=True, related_name="+", verbose_name="they go to"
    )
    bells_stay = models.BooleanField("bells as they are now", default=False)

    objects = OfYearDraftQuerySet["NextYearBuilding"].as_manager()

    class Meta:
        verbose_name = "building next year"
        verbose_name_plural = "buildings next year"
        ordering = ["building__name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["next_year", "building"],
                name="next_year_building_once",
                violation_error_message="This building is in this next year already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.building} next year"

    def clean(self) -> None:
        """The next building is another one of the district."""
        if self.next_building_id and self.next_building_id == self.building_id:
            raise ValidationError({"next_building": "Choose another building than this one."}, code="same_building")


class NextYearClass(NextYearRow):
    """A class in the coming year: whether it goes on, for which grades, with whom."""

    next_year = models.ForeignKey(NextYear, on_delete=models.CASCADE, related_name="classes")
    school_class = models.ForeignKey(SchoolClass, on_delete=models.CASCADE, related_name="+", verbose_name="class")
    goes_on = models.BooleanField(default=True, help_text="Unchecked: nobody is in it from the first day on.")
    grades = models.CharField(max_length=40, blank=True, validators=[validate_grades])
    class_teacher = models.CharField(max_length=80, blank=True)

    objects = OfYearDraftQuerySet["NextYearClass"].as_manager()

    class Meta:
        verbose_name = "class next year"
        verbose_name_plural = "classes next year"
        ordering = ["school_class", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["next_year", "school_class"],
                name="next_year_class_once",
                violation_error_message="This class is in this next year already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.school_class} next year"


class NextYearStudent(NextYearRow):
    """What is said of a student beside the rule; without a row the rule holds (`schedule.next_year.rolling`)."""

    class Choice(models.TextChoices):
        """What becomes of the student."""

        RULE = "", "As the rule says"
        GOES_ON = "goes_on", "Goes on, a grade up"
        AGAIN = "again", "The same grade again"
        LEAVES = "leaves", "Leaves"

    next_year = models.ForeignKey(NextYear, on_delete=models.CASCADE, related_name="students")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="+")
    choice = models.CharField(max_length=8, choices=Choice, blank=True, default=Choice.RULE)
    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty: as the rule says.",
    )
    home_class = models.ForeignKey(
        SchoolClass,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty: the class of this year, where it goes on for the grade.",
    )

    objects = OfYearDraftQuerySet["NextYearStudent"].as_manager()

    class Meta:
        verbose_name = "student next year"
        verbose_name_plural = "students next year"
        ordering = ["student", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["next_year", "student"],
                name="next_year_student_once",
                violation_error_message="This student is in this next year already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student.code} next year"
