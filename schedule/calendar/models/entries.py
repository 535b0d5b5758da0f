"""The district's calendar: school year, marking periods, closures and other special days."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words, span_words
from accounts.models import DistrictRow, ScopedQuerySet
from schedule.calendar.models.bells import BellSchedule
from travel.places.models import Building


class PlainScopedQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows that everyone in the district may read."""


class SchoolYear(DistrictRow):
    """First to last day with students; or a season outside it, such as an extended school year."""

    name = models.CharField(max_length=20, help_text="Such as 2026-27.")
    first_day = models.DateField()
    last_day = models.DateField()
    extended = models.BooleanField(
        "extended school year",
        default=False,
        help_text="A season outside the school year: only services that a plan names for it are owed in it.",
    )

    objects = PlainScopedQuerySet["SchoolYear"].as_manager()

    class Meta:
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "name"],
                name="school_year_once",
                violation_error_message="This school year already exists.",
            ),
            models.CheckConstraint(
                condition=Q(last_day__gt=F("first_day")),
                name="school_year_ends_after_start",
                violation_error_message="The school year ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class MarkingPeriod(DistrictRow):
    """A stretch of the year after which progress is reported."""

    school_year = models.ForeignKey(SchoolYear, on_delete=models.CASCADE, related_name="marking_periods")
    name = models.CharField(max_length=20)
    first_day = models.DateField()
    last_day = models.DateField()

    objects = PlainScopedQuerySet["MarkingPeriod"].as_manager()

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gt=F("first_day")),
                name="marking_period_ends_after_start",
                violation_error_message="The marking period ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Keep it inside its school year."""
        if not (self.school_year_id and self.first_day and self.last_day):
            return
        year = self.school_year
        if self.first_day < year.first_day or self.last_day > year.last_day:
            raise ValidationError(
                f"Keep the marking period inside the school year ({span_words(year.first_day, year.last_day)}).",
                code="outside_year",
            )


def bells_gone(collector: Any, field: Any, entries: models.QuerySet[Any], using: str) -> None:
    """What becomes of calendar entries whose bell schedule is deleted (an ``on_delete``).

    One of the kind “another bell schedule” says nothing without it and keeps it from going, unless it goes as well
    (with its building); any other falls back to the building's own bells of its kind.
    """
    needs_them = {"kind": CalendarEntry.Kind.OTHER_BELL}
    models.RESTRICT(collector, field, entries.filter(**needs_them), using)
    models.SET_NULL(collector, field, entries.exclude(**needs_them), using)


class CalendarEntry(DistrictRow):
    """A special day or stretch of days, for the whole district or for one building."""

    class Kind(models.TextChoices):
        """What the day does to classes."""

        CLOSED = "closed", "Closed"
        NO_STUDENTS = "no_students", "No students, staff only"
        EARLY_DISMISSAL = "early_dismissal", "Early dismissal"
        DELAYED_OPENING = "delayed_opening", "Delayed opening"
        OTHER_BELL = "other_bell", "Another bell schedule"
        OPEN = "open", "Open after all (an exception for one building)"

    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="calendar_entries",
        help_text="Empty for the whole district.",
    )
    first_date = models.DateField()
    last_date = models.DateField()
    kind = models.CharField(max_length=16, choices=Kind, default=Kind.CLOSED)
    bell_schedule = models.ForeignKey(
        BellSchedule,
        on_delete=bells_gone,
        null=True,
        blank=True,
        related_name="calendar_entries",
        help_text="Empty: the building's own schedule of this kind.",
    )
    title = models.CharField(max_length=120, blank=True)
    opens_at = models.TimeField(
        null=True, blank=True, help_text="Of a delayed opening: when the school opens. Empty: by its bells."
    )
    closes_at = models.TimeField(
        null=True, blank=True, help_text="Of an early dismissal: when students go home. Empty: by its bells."
    )
    happening = models.ForeignKey(
        "schedule.Happening",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="entries",
        editable=False,
        help_text="Where it was said by “Something happened”: taken back there, whole.",
    )

    objects = PlainScopedQuerySet["CalendarEntry"].as_manager()

    class Meta:
        verbose_name_plural = "calendar entries"
        ordering = ["first_date", "building"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="calendar_entry_ends_after_start",
                violation_error_message="The last date is before the first.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="other_bell") | Q(bell_schedule__isnull=False),
                name="other_bell_names_schedule",
                violation_error_message="Choose the bell schedule that rings on this day.",
            ),
            models.CheckConstraint(
                condition=Q(opens_at=None) | Q(kind="delayed_opening"),
                name="opens_at_of_delayed_opening",
                violation_error_message="Only a delayed opening has a time at which the school opens.",
            ),
            models.CheckConstraint(
                condition=Q(closes_at=None) | Q(kind="early_dismissal"),
                name="closes_at_of_early_dismissal",
                violation_error_message="Only an early dismissal has a time at which students go home.",
            ),
        ]

    def __str__(self) -> str:
        return f"{date_words(self.first_date)} {self.title or self.get_kind_display()}"

    def clean(self) -> None:
        """Keep building and bell schedule together."""
        if self.bell_schedule is not None and self.bell_schedule.building_id != self.building_id:
            raise ValidationError(
                {"bell_schedule": "Choose the building that this bell schedule belongs to as well."},
                code="other_building",
            )


class WordRule(DistrictRow):
    """A word of a published school calendar and what it says of its day; the district edits them."""

    class Kind(models.TextChoices):
        """What an event with the words says (schedule.calendar.published.words.FindingKind, and nothing at all)."""

        CLOSED = "closed", "Closed"
        NO_STUDENTS = "no_students", "No students, staff only"
        EARLY_DISMISSAL = "early_dismissal", "Early dismissal"
        DELAYED_OPENING = "delayed_opening", "Delayed opening"
        FIRST_DAY = "first_day", "First day of the school year"
        LAST_DAY = "last_day", "Last day of the school year"
        ORDINARY = "ordinary", "An ordinary day after all"

    words = models.CharField(max_length=120, help_text="Words that a calendar title contains; case doesn't matter.")
    kind = models.CharField(max_length=16, choices=Kind)
    position = models.PositiveSmallIntegerField(default=100, help_text="Lower numbers are tried first.")

    objects = PlainScopedQuerySet["WordRule"].as_manager()

    class Meta:
        ordering = ["position", "words"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "words"],
                name="word_rule_once",
                violation_error_message="These words are already in the table.",
            ),
        ]

    def __str__(self) -> str:
        return self.words
