"""``manage.py plan_term``: plan one teacher's coming weeks as one timetable, here and now, left as drafts."""

import datetime as dt
from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.naming import unmarked
from jobs.runner import run_job
from schedule.management.asked import teacher_asked_for
from schedule.terms.models import TermPlan
from schedule.terms.services.plans import MOST_WEEKS, term_plan_start
from schedule.weeks.selectors.school_weeks import next_week_to_plan


class Command(BaseCommand):
    """Plans in the foreground through the same service as the page's button."""

    help = "Plan a teacher's coming weeks as one timetable and print its figures. The weeks are left as drafts."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whose term, from when, how many weeks, and how hard to search."""
        parser.add_argument("--teacher", required=True, help="sign-in name of the teacher")
        parser.add_argument(
            "--monday",
            type=dt.date.fromisoformat,
            help="Monday of the first week: 2026-11-30. Without one, the first week that isn't in force yet",
        )
        parser.add_argument("--weeks", type=int, default=4, help=f"1 to {MOST_WEEKS}")
        parser.add_argument(
            "--if-none", action="store_true", help="plan only if none was planned before, and print that one"
        )
        parser.add_argument("--time-limit", type=int, default=20, help="seconds of the search's work")

    def handle(self, *args: Any, **options: Any) -> None:
        """Plan unless a term is there and enough; print a line for each week."""
        teacher = teacher_asked_for(options)
        rows = TermPlan.objects.filter(run__teacher=teacher).exclude(summary={}).select_related("run")
        known = rows.order_by("pk").last() if options["if_none"] else None
        try:
            term = known or self._planned(teacher, options)
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        if not term.summary:
            raise CommandError(unmarked(term.run.job.error) or "The planner made no timetable.")
        self.stdout.write(f"One timetable for the weeks from {term.run.first_date} to {term.run.last_date}:")
        for week in term.summary["weeks"]:
            self.stdout.write(
                f"  {week['monday']}: {week['minutes_placed']} of {week['minutes_owed']} minutes placed, "
                f"{week['kept']} of {week['open']} sessions at their standing time, "
                f"{week['drive_minutes']} minutes of driving"
            )

    def _planned(self, teacher: Person, options: dict[str, Any]) -> TermPlan:
        zone = ZoneInfo(teacher.district.time_zone if teacher.district else "UTC")
        first = options["monday"] or next_week_to_plan(teacher, teacher, timezone.localdate(timezone=zone))
        last = first + dt.timedelta(weeks=max(1, options["weeks"]), days=-1)
        term = term_plan_start(
            actor=teacher, teacher=teacher, first_date=first, last_date=last, time_limit=options["time_limit"]
        )
        self.stderr.write(f"Planning the weeks from {first} to {last} as one timetable ...")
        run_job(term.run.job_id)
        return TermPlan.objects.select_related("run__job").get(pk=term.pk)
