"""Meetings of several teachers."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.models import Person, ScopedQuerySet
from accounts.models.scope import Viewer
from schedule.calendar.models import TimedMeeting


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


class CommonMeeting(TimedMeeting):
    """One meeting of several teachers, kept once: in the week of each it takes the same time.

    `teachers` are those in whose weeks it is planned, `asked` those whom a colleague asks and who haven't answered.
    One on a date has neither a first nor a last day.
    """

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
            *TimedMeeting.Meta.constraints,
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
        return begun and (self.last_day is None or date <= self.last_day) and super().is_on(date)

    @property
    def people(self) -> list[Person]:
        """Those in whose weeks it stands, and those who are asked."""
        return [*self.teachers.all(), *self.asked.all()]
