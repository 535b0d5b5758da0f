"""The planning for benchmarks/weeks_in_a_row.py.

python -m benchmarks.weeks_in_a_row_county MONDAY WEEKS SECONDS     (DATABASE_URL names a database with the demo)
"""

import datetime as dt
import sys
import time

import django

django.setup()

from accounts.models import Person  # noqa: E402 -- models can be imported only after the set-up
from jobs.runner import run_job  # noqa: E402
from schedule.weeks.aims import Aim, AimedWeek  # noqa: E402
from schedule.weeks.models import WeekPlan  # noqa: E402
from schedule.weeks.selectors.runs import run_detail  # noqa: E402
from schedule.weeks.services.runs import plan_run_start  # noqa: E402


def measure(teacher: Person, first: dt.date, weeks: int, seconds: int, aim: Aim) -> None:
    """Plan the weeks by one choice and print what both give."""
    began = time.monotonic()
    run = plan_run_start(
        actor=teacher,
        teacher=teacher,
        first_date=first,
        last_date=first + dt.timedelta(weeks=weeks, days=-1),
        time_limit=seconds,
        aim=aim,
    )
    run_job(run.job_id)
    view = run_detail(teacher, run)
    print(f"{view.aim_label} ({time.monotonic() - began:.0f} s in all)")
    for one in view.aims:
        figures = WeekPlan.objects.get(plan_run=run, monday=one.monday).figures
        proved = [goal["goal"] for goal in figures["goals"] if goal["status"] == "optimal"]
        print(
            f"  {one.monday} | {one.kept:>3} of {one.sessions:>3} kept | {one.drive_minutes:>3} min | "
            f"{_other(one)} | proved: {', '.join(proved)}"
        )
    kept, sessions = sum(one.kept for one in view.aims), sum(one.sessions for one in view.aims)
    print(
        f"  in all     | {kept} of {sessions} kept | {sum(one.drive_minutes for one in view.aims)} min", flush=True
    )


def _other(one: AimedWeek) -> str:
    if one.other_kept is None:
        return f"[{one.other_known}]"
    return f"[{one.other_label}: {one.other_kept} kept, {one.other_drive_minutes} min, {one.other_known}]"


def main() -> None:
    """Both choices over the same weeks."""
    first, weeks, seconds = dt.date.fromisoformat(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    for aim in Aim:
        measure(Person.objects.get(username="teacher"), first, weeks, seconds, aim)


if __name__ == "__main__":
    main()
