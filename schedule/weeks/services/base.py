"""What a week of a planning run is loaded against: what else the run plans, what is in force, and what stays."""

import datetime as dt
from collections.abc import Mapping

from schedule.weeks.aims import AIM_GOALS, Aim
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read


def run_base(
    run: PlanRun, monday: dt.date, planned: Mapping[dt.date, WeekContent], in_force: WeekContent | None
) -> Base:
    """What a week of a run is loaded against."""
    return Base(
        planned=planned,
        in_force=in_force,
        pins=_pins(run, monday),
        between=(run.first_date, run.last_date),
        goals=AIM_GOALS[Aim(run.aim)],
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
