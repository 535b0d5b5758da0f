"""Runs of the planner from start to end within a test, through the same service and the same job as the pages'."""

import datetime as dt

from accounts.models import Person
from jobs.runner import run_job
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlanRun
from schedule.weeks.services.runs import plan_run_start


def worked(run: PlanRun) -> PlanRun:
    """The run once its job has been worked, here and now."""
    run_job(run.job_id)
    run.refresh_from_db()
    return run


def plan_now(
    teacher: Person,
    first: dt.date,
    last: dt.date,
    *,
    seconds: int,
    keep_pins: bool = True,
    aim: Aim = Aim.USUAL_TIMES,
) -> PlanRun:
    """The teacher plans the weeks between two dates, with so many seconds of search a week."""
    return worked(
        plan_run_start(
            actor=teacher,
            teacher=teacher,
            first_date=first,
            last_date=last,
            time_limit=seconds,
            keep_pins=keep_pins,
            aim=aim,
        )
    )
