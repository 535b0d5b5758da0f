"""A run over the week that is under way plans its rest: from now on, or from the date that it is asked for."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.words import clock_words
from schedule.planner.result import Itinerary
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import district_of_teacher, monday_of
from schedule.weeks.planning.outcome import sessions_of_plan
from schedule.weeks.planning.rest.reading import falling_out, logged_otherwise, times_held
from schedule.weeks.versions.content import SessionContent, WeekContent

GONE_BY = (
    "{what} has begun or is logged since this was planned, and would change. Plan the rest of the day again, or "
    "discard this draft."
)
TO_SUNDAY = dt.timedelta(days=6)

type Moment = tuple[dt.date, dt.time]


def rest_moment(
    teacher: Person,
    first_date: dt.date,
    last_date: dt.date,
    now: dt.datetime | None = None,
    *,
    ahead: bool = False,
) -> Moment | None:
    """From when on a run between two dates plans; ``None`` where no week in force is under way in it.

    What has begun stays, and so do the dates before the first one. ``ahead``: a week in force that comes later too.
    """
    local = _local(teacher, now)
    today, monday = local.date(), monday_of(first_date)
    under_way = monday == monday_of(today) or (ahead and today < monday)
    if not under_way or last_date < today:
        return None
    if not WeekPlan.objects.filter(teacher=teacher, monday=monday, status=WeekPlan.Status.PUBLISHED).exists():
        return None
    if first_date > today:
        return first_date, dt.time()
    return today, local.time().replace(second=0, microsecond=0)


def _local(teacher: Person, now: dt.datetime | None) -> dt.datetime:
    zone = ZoneInfo(district_of_teacher(teacher).time_zone)
    return (now or timezone.now()).astimezone(zone)


def sessions_to_stay(
    teacher: Person, left: WeekContent, planned: tuple[SessionContent, ...]
) -> list[SessionContent]:
    """What fell out and found no other place: it stays where it stood, and is missed there for what took it."""
    placed = {one.uid for one in planned}
    gone = [one for one in left.sessions if one.uid not in placed]
    out = falling_out(teacher, gone)
    return [one for one in gone if one.uid in out]


def base_without_loss(teacher: Person, base: Base, loaded: WeekInput, plan: Itinerary | None) -> Base | None:
    """What to plan against instead, where a plan takes out a session that would be held, for all of it or in part.

    What would be held stays where it is then, and what fell out is placed beside it, not in its stead.
    """
    if base.rest is None or plan is None:
        return None
    left = base.rest.left.sessions
    placed = {one.uid for one in sessions_of_plan(loaded, plan, base.rest.left)}
    held = times_held(teacher, left)
    if all(one.uid in placed or one.uid not in held for one in left):
        return None
    rest = base.rest.holding(held)
    whole = [one for one in rest.left.sessions if one.uid in held]
    return replace(base, rest=rest, in_force=rest.left, pins=(*base.pins, *whole))


def published_of(run: PlanRun, monday: dt.date) -> WeekPlan | None:
    """The version in force that a draft of the rest is made from."""
    if run.first_time is None or not monday <= run.first_date <= monday + TO_SUNDAY:
        return None
    rows = WeekPlan.objects.filter(teacher=run.teacher, monday=monday, status=WeekPlan.Status.PUBLISHED)
    return rows.first()


def rest_require_ahead(
    week: WeekPlan, content: WeekContent, before: WeekContent | None, now: dt.datetime | None = None
) -> None:
    """Refuse a draft of the rest of a week that changes what has begun or was logged meanwhile (``gone_by``)."""
    run = week.plan_run
    if run is None or run.first_time is None or before is None:
        return
    gone = _gone_by(content, before, _local(week.teacher, now))
    if gone:
        first = min(gone, key=lambda one: (one.date, one.start))
        when = f"The session of {date_words(first.date)}, {clock_words(first.start)},"
        raise ApplicationError(GONE_BY.format(what=when), code="gone_by")


def _gone_by(content: WeekContent, before: WeekContent, now: dt.datetime) -> list[SessionContent]:
    """Sessions of either that a draft changes, and that have begun or are logged."""
    moment = (now.date(), minutes_of(now.time()))
    stands = set(before.sessions)
    were, come = _spots(before), _spots(content)
    changed = [one for one in stands.union(content.sessions) if were.get(one.uid) != come.get(one.uid)]
    logged = logged_otherwise([one for one in changed if one in stands])
    return [one for one in changed if one.uid in logged or (one.date, one.start) < moment]


def _spots(content: WeekContent) -> dict[str, tuple[dt.date, int]]:
    return {one.uid: (one.date, one.start) for one in content.sessions}
