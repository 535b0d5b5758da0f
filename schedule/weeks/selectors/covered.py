"""Sessions and students of whoever stands in."""

import datetime as dt

from django.db.models import Exists, OuterRef, Q

from accounts.models import Person, Substitution
from accounts.models.substitution import SubstitutionQuerySet
from schedule.weeks.models import SessionAttendee, WeekPlan


def covered_now(substitute: Person, today: dt.date) -> Exists:
    """A condition on planned sessions: the substitute's to give, and the substitution is not over or to come."""
    covers = _covers(substitute, today, "week__teacher", "date")
    return Exists(covers.of_session(OuterRef("uid")))


def in_sessions_of(substitute: Person, day: dt.date) -> Q:
    """A condition on students: in the sessions that a substitute gives, by the substitutions that hold on a day."""
    covers = _covers(substitute, day, "session__week__teacher", "session__date")
    mine = Exists(covers.of_session(OuterRef("session__uid")))
    rows = SessionAttendee.objects.filter(mine, session__week__status=WeekPlan.Status.PUBLISHED)
    return Q(pk__in=rows.values("student"))


def _covers(substitute: Person, day: dt.date, teacher: str, date: str) -> SubstitutionQuerySet:
    """The substitutions that hold on a day, of a row's teacher and date, by the paths of both."""
    rows = Substitution.objects.filter(substitute=substitute, first_date__lte=day, last_date__gte=day)
    return rows.filter(teacher=OuterRef(teacher), first_date__lte=OuterRef(date), last_date__gte=OuterRef(date))
