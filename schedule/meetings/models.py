"""Meetings of several teachers."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import Person, ScopedQuerySet
from accounts.models.scope import Viewer
from schedule.calendar.models import ContractDay, TimedMeeting
from schedule.calendar.words import listed


class CommonMeetingQuerySet(ScopedQuerySet["CommonMeeting"]):
    """A coordinator sees the district's, a teacher those that are the teacher's too."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Those that somebody is in, is asked to, or calls; all for a coordinator."""
        if viewer.is_coordinator:
            return self
        mine = Q(called_by=viewer) | Q(teachers=viewer) | Q(asked=viewer)
        return self.filter(pk__in=CommonMeeting.objects.filter(mine).values("pk"))

    def changeable_by(self, actor: Viewer) -> Self:
        """Whoever calls a meeting changes it, and a coordinator any."""
        rows = super().changeable_by(actor)
        if not isinstance(actor, Person) or actor.is_coordinator:
            return rows
        return rows.filter(called_by=actor)

    def answerable_by(self, actor: Person) -> Self:
        """Those that somebody is asked to, or is in: nobody answers for another."""
        mine = CommonMeeting.objects.filter(Q(teachers=actor) | Q(asked=actor))
        return super().changeable_by(actor).filter(pk__in=mine.values("pk"))


def weekdays_require(value: object) -> None:
    """Raise `ValidationError` unless it is a list of weekdays, Monday being 0, each once."""
    known = set(ContractDay.Weekday.values)
    if not isinstance(value, list) or any(type(one) is not int for one in value) or not known.issuperset(value):
        raise ValidationError("Choose weekdays from the list.", code="weekdays")
    if len(set(value)) < len(value):
        raise ValidationError("A weekday is named twice. Name each once.", code="weekdays")


class CommonMeeting(TimedMeeting):
    """One meeting of several teachers, kept once: in the week of each it takes the same time.

    `teachers` are those in whose weeks it is planned, `asked` those whom a colleague asks and who haven't answered.
    One on a date has neither a first nor a last day. A common lunch is a wish: it takes no time, and planning leads
    each one's lunch to the others' between `start` and `end`.
    """

    class Kind(models.TextChoices):
        """Whether it takes its time, or is wished for."""

        MEETING = "meeting", "Meeting"
        LUNCH = "lunch", "Lunch together"

    kind = models.CharField(max_length=7, choices=Kind, default=Kind.MEETING, db_default=Kind.MEETING.value)
    weekdays = models.JSONField(
        default=list,
        db_default=[],
        blank=True,
        validators=[weekdays_require],
        help_text="Of a lunch, Monday is 0; empty: each day.",
    )
    worth_minutes = models.PositiveSmallIntegerField(
        "may cost",
        default=10,
        db_default=10,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text="Minutes more at the wheel a day, at most, for lunch with each of them.",
    )
    called_by = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", verbose_name="called by"
    )
    teachers = models.ManyToManyField(Person, related_name="common_meetings")
    asked = models.ManyToManyField(Person, blank=True, related_name="+")
    first_day = models.DateField("from", null=True, blank=True, help_text="Empty: it was always so.")
    last_day = models.DateField("until", null=True, blank=True, help_text="Empty: until further notice.")

    objects = CommonMeetingQuerySet.as_manager()

    class Meta(TimedMeeting.Meta):
        abstract = False
        verbose_name = "common meeting"
        ordering = ["weekday", "date", "start", "pk"]
        constraints = [
            *(one for one in TimedMeeting.Meta.constraints if "weekday_or_date" not in one.name),
            models.CheckConstraint(
                condition=Q(weekday__isnull=False, date__isnull=True, kind="meeting")
                | Q(weekday__isnull=True, date__isnull=False, kind="meeting")
                | Q(weekday__isnull=True, date__isnull=True, kind="lunch"),
                name="commonmeeting_weekday_or_date",
                violation_error_message="Choose a weekday or a date, one of the two.",
            ),
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(first_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="commonmeeting_ends_after_first_day",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def clean(self) -> None:
        """One on a date needs no other days; the place is of the district."""
        if self.date is not None:
            self.first_day = self.last_day = None
        if self.building is not None and self.building.district_id != self.district_id:
            raise ValidationError({"building": "This building belongs to another district."}, code="other_district")

    def is_on(self, date: dt.date) -> bool:
        """Whether it is held on a date, as far as its own days say."""
        begun = self.first_day is None or self.first_day <= date
        if not begun or (self.last_day is not None and date > self.last_day):
            return False
        if self.is_lunch:
            return not self.weekdays or date.weekday() in self.weekdays
        return super().is_on(date)

    @property
    def is_lunch(self) -> bool:
        """Whether it is a wish for lunch at one time."""
        return self.kind == self.Kind.LUNCH

    @property
    def days(self) -> str:
        """``Every Monday and Wednesday``; a lunch may be each day."""
        if not self.is_lunch:
            return super().days
        names = [str(ContractDay.Weekday(one).label) for one in sorted(self.weekdays)]
        return f"Every {listed(names)}" if names else "Every day"

    @property
    def people(self) -> list[Person]:
        """Those in whose weeks it stands, and those who are asked."""
        return [*self.teachers.all(), *self.asked.all()]
