"""The teacher's own rules: contract day, lunch, preparation, meetings."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import DistrictRow, Person, ScopedQuerySet
from schedule.calendar.day_words import LAST, NamedDays
from travel.places.models import Building


class OfTeacherQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows with a `teacher`: the teacher's own, and for a coordinator the district's."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own rows unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(teacher=viewer)


class TeacherRules(DistrictRow):
    """What the contract and the teacher ask of every week; minutes throughout, times local."""

    class PreparationPer(models.TextChoices):
        """Over what the preparation minutes are counted."""

        DAY = "day", "a day"
        FORTNIGHT = "fortnight", "in two weeks"

    teacher = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="rules")
    start_place = models.ForeignKey(
        Building,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where the contract day begins; empty: at the first class, the drive from home is your own.",
    )
    end_place = models.ForeignKey(
        Building,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it ends; empty: at the last class.",
    )
    lunch_minutes = models.PositiveSmallIntegerField(default=30, validators=[MaxValueValidator(120)])
    lunch_earliest = models.TimeField(default="10:45")
    lunch_latest_end = models.TimeField(default="13:30")
    preparation_minutes = models.PositiveSmallIntegerField(default=45, validators=[MaxValueValidator(900)])
    preparation_per = models.CharField(max_length=10, choices=PreparationPer, default=PreparationPer.DAY)
    preparation_smallest_block = models.PositiveSmallIntegerField(
        default=15, validators=[MinValueValidator(5), MaxValueValidator(120)]
    )
    longest_stretch = models.PositiveSmallIntegerField(
        default=180,
        validators=[MinValueValidator(30), MaxValueValidator(600)],
        help_text="Longest stretch of teaching and driving without a break.",
    )
    setup_minutes = models.PositiveSmallIntegerField(
        default=5, validators=[MaxValueValidator(30)], help_text="Between sessions, to set up."
    )
    largest_group = models.PositiveSmallIntegerField(
        default=6,
        validators=[MinValueValidator(1), MaxValueValidator(30)],
        help_text="Most students whom you take in a group of your own making.",
    )
    grades_apart = models.PositiveSmallIntegerField(
        default=2, validators=[MaxValueValidator(6)], help_text="Most grades between students of one group."
    )

    objects = OfTeacherQuerySet["TeacherRules"].as_manager()

    class Meta:
        verbose_name = "teacher's rules"
        verbose_name_plural = "teachers' rules"

    def __str__(self) -> str:
        return f"Rules of {self.teacher}"

    def clean(self) -> None:
        """The lunch window must hold the lunch; the places must be of the district."""
        self._check_lunch()
        for name in ("start_place", "end_place"):
            place = getattr(self, name)
            if place is not None and place.district_id != self.district_id:
                raise ValidationError({name: "This building belongs to another district."}, code="other_district")

    def _check_lunch(self) -> None:
        times = (self.lunch_earliest, self.lunch_latest_end)
        if not all(isinstance(time, dt.time) for time in times) or self.lunch_minutes is None:
            return
        window = (self.lunch_latest_end.hour - self.lunch_earliest.hour) * 60
        window += self.lunch_latest_end.minute - self.lunch_earliest.minute
        if window < self.lunch_minutes:
            raise ValidationError(
                {"lunch_latest_end": f"The window has {window} minutes; lunch needs {self.lunch_minutes}."},
                code="window_too_short",
            )


class ContractDay(DistrictRow):
    """Start and end of the contract day on one weekday (0 is Monday); no row, no work that day."""

    class Weekday(models.IntegerChoices):
        """ISO weekday less one."""

        MONDAY = 0, "Monday"
        TUESDAY = 1, "Tuesday"
        WEDNESDAY = 2, "Wednesday"
        THURSDAY = 3, "Thursday"
        FRIDAY = 4, "Friday"
        SATURDAY = 5, "Saturday"
        SUNDAY = 6, "Sunday"

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="contract_days")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    start = models.TimeField()
    end = models.TimeField()

    objects = OfTeacherQuerySet["ContractDay"].as_manager()

    class Meta:
        ordering = ["teacher", "weekday"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "weekday"],
                name="contract_day_once",
                violation_error_message="This weekday already has contract hours.",
            ),
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="contract_day_ends_after_start",
                violation_error_message="The contract day ends before it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.start} to {self.end}"


class TimedMeeting(DistrictRow):
    """A time that is taken: on a weekday, every week or once a month, or on one date."""

    class MonthPlace(models.IntegerChoices):
        """Which one of its weekdays in a month; closed days count (`schedule.calendar.day_words`)."""

        FIRST = 1, "First"
        SECOND = 2, "Second"
        THIRD = 3, "Third"
        FOURTH = 4, "Fourth"
        LAST = LAST, "Last"

    title = models.CharField(
        max_length=80, help_text="No student's name: it shows on printed weeks and in phone calendars."
    )
    weekday = models.PositiveSmallIntegerField(choices=ContractDay.Weekday, null=True, blank=True)
    month_place = models.SmallIntegerField(
        choices=MonthPlace, null=True, blank=True, help_text="Empty: every week."
    )
    date = models.DateField(null=True, blank=True)
    start = models.TimeField()
    end = models.TimeField()
    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty: wherever you are (a call).",
    )

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gt=F("start")),
                name="%(class)s_ends_after_start",
                violation_error_message="The meeting ends before it starts.",
            ),
            models.CheckConstraint(
                condition=Q(weekday__isnull=False, date__isnull=True) | Q(weekday__isnull=True, date__isnull=False),
                name="%(class)s_weekday_or_date",
                violation_error_message="Choose a weekday or a date, one of the two.",
            ),
            models.CheckConstraint(
                condition=Q(month_place__isnull=True) | Q(weekday__isnull=False),
                name="%(class)s_month_place_of_weekday",
                violation_error_message="Choose the weekday, too, of which it is the first or the last in a month.",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def is_on(self, date: dt.date) -> bool:
        """Whether it is held on a date, as far as its own days say."""
        if self.weekday is None:
            return self.date == date
        return NamedDays(weekdays=frozenset({self.weekday}), place=self.month_place).names(date)

    @property
    def days(self) -> str:
        """``Every Wednesday`` or ``First Wednesday of each month``; empty where it is once."""
        if self.weekday is None:
            return ""
        if self.month_place is None:
            return f"Every {self.get_weekday_display()}"
        return f"{self.get_month_place_display()} {self.get_weekday_display()} of each month"


class Meeting(TimedMeeting):
    """Something that blocks one teacher."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="meetings")

    objects = OfTeacherQuerySet["Meeting"].as_manager()

    class Meta(TimedMeeting.Meta):
        abstract = False
        ordering = ["teacher", "weekday", "date", "start"]
