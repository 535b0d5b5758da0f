"""Teams: teachers who see each other's students, and log for each other if the team says so."""

import datetime as dt
from typing import Self

from django.db import models
from django.db.models import F, Q

from accounts.dates import span_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from accounts.models.mate import Mate


class TeamQuerySet(ScopedQuerySet["Team"]):
    """The coordinator sees every team, a teacher the own ones, nobody else any."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role."""
        if viewer.is_coordinator:
            return self
        return self.filter(members=viewer) if viewer.is_teacher else self.none()

    def in_force(self, day: dt.date) -> Self:
        """Those of a date."""
        return self.filter(first_day__lte=day, last_day__gte=day)


class Team(DistrictRow):
    """Teachers who share their caseloads between two days, both included.

    Each sees the others' students; nobody may change by it what is another's. A team of a person says nothing about
    others' teams with the same person: whom somebody sees are the mates in the own teams.
    """

    class Shares(models.TextChoices):
        """How far it goes."""

        SEE = "see", "See each other’s students"  # noqa: RUF001 -- as pages write it
        LOG = "log", "See each other’s students, and log for each other"  # noqa: RUF001 -- as above

    name = models.CharField(max_length=60, help_text="Such as Westside PE. No student’s name.")  # noqa: RUF001 -- as above
    members = models.ManyToManyField(Person, related_name="teams", help_text="Two or more teachers.")
    shares = models.CharField("what is shared", max_length=8, choices=Shares, default=Shares.SEE)
    first_day = models.DateField()
    last_day = models.DateField(help_text="Including this day. After it nobody sees anything by the team.")

    objects = TeamQuerySet.as_manager()

    class Meta:
        verbose_name = "team"
        ordering = ["first_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="team_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {span_words(self.first_day, self.last_day)}"


def mates_of(person: Person, day: dt.date) -> tuple[Mate, ...]:
    """With whom a teacher shares a caseload on a date, once for each team: the one place that decides it.

    One query; none for whoever works in another role just now, and so has no mates.
    """
    if not person.is_teacher or person.district_id is None:
        return ()
    teams = Team.objects.filter(district_id=person.district_id, members=person).in_force(day)
    rows = Team.members.through.objects.filter(team__in=teams).exclude(person=person)
    found = rows.values_list("person", "team__first_day", "team__last_day", "team__shares").order_by("pk")
    return tuple(Mate(mate, first, last, shares == Team.Shares.LOG) for mate, first, last, shares in found)
