"""What a week of a planning run is loaded against: what else the run plans, what is in force, and what stays."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.aims import AIM_GOALS, Aim
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.planning.others.drafts import moments_of
from schedule.weeks.planning.rest.reading import rest_from
from schedule.weeks.planning.sources import Follow
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read

TO_SUNDAY = dt.timedelta(days=6)


def run_base(
    run: PlanRun, monday: dt.date, planned: Mapping[dt.date, WeekContent], in_force: WeekContent | None
) -> Base:
    """What a week of a run is loaded against: of a week that is planned from a moment on, what comes after it."""
    base = Base(
        planned=planned,
        in_force=in_force,
        pins=_pins(run, monday),
        between=(run.first_date, run.last_date),
        goals=AIM_GOALS[Aim(run.aim)],
        follow=Follow(on=True, held=moments_of(in_force.sessions if in_force else ())),
    )
    if run.first_time is None or in_force is None or not monday <= run.first_date <= monday + TO_SUNDAY:
        return base
    rest = rest_from(run.teacher, in_force, run.first_date, minutes_of(run.first_time))
    left = {one.uid for one in rest.left.sessions}
    return replace(
        base,
        in_force=rest.left,
        pins=tuple(one for one in base.pins if one.uid in left),
        keep_buildings=() if rest.place is None else (rest.place,),
        rest=rest,
    )


def _pins(run: PlanRun, monday: dt.date) -> tuple[SessionContent, ...]:
    """Sessions that stay, of the version that was made or published last: it is the one being worked on.

    Make-ups that somebody booked always do, pinned ones where the run keeps pins.
    """
    rows = WeekPlan.objects.filter(teacher=run.teacher, monday=monday)
    rows = rows if run.pk is None else rows.exclude(plan_run=run)
    versions = rows.filter(status__in=[WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED])
    newest = max(versions, key=lambda row: (row.published_at or row.created_at, row.pk), default=None)
    sessions = content_read(newest).sessions if newest else ()
    return tuple(one for one in sessions if one.makes_up or (one.pinned and run.keep_pins))
