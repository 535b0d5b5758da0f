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
from schedule.terms.services.plans import MOST_SECONDS, MOST_WEEKS, term_plan_start
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.school_weeks import next_week_to_plan
from schedule.weeks.services.weeks import week_discard

TIMES_LONGER = (3, 9)
"""The searches after the first one, while minutes are left that could have a place."""


def _last_kept(teacher: Person) -> TermPlan | None:
    """The term planned last of those whose weeks weren't set aside."""
    kept = WeekPlan.objects.filter(teacher=teacher).exclude(status=WeekPlan.Status.DISCARDED)
    rows = TermPlan.objects.filter(run__in=kept.values("plan_run")).exclude(summary={}).select_related("run")
    return rows.order_by("pk").last()


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
        parser.add_argument(
            "--until-placed",
            action="store_true",
            help="search again, longer, while minutes are left of which it isn't proved that they have no place; "
            "where some are left at the end, leave no drafts",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Plan unless a term is there and enough; print a line for each week."""
        teacher = teacher_asked_for(options)
        known = _last_kept(teacher) if options["if_none"] else None
        try:
            term = known or self._searched(teacher, options)
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        self.stdout.write(f"One timetable for the weeks from {term.run.first_date} to {term.run.last_date}:")
        for week in term.summary["weeks"]:
            self.stdout.write(
                f"  {week['monday']}: {week['minutes_placed']} of {week['minutes_owed']} minutes placed, "
                f"{week['kept']} of {week['open']} sessions at their standing time, "
                f"{week['drive_minutes']} minutes of driving"
            )

    def _searched(self, teacher: Person, options: dict[str, Any]) -> TermPlan:
        """The term; searched for again while it leaves what could have a place, if that was asked."""
        limits = [options["time_limit"]]
        if options["until_placed"]:
            limits += [min(MOST_SECONDS, times * options["time_limit"]) for times in TIMES_LONGER]
        for limit in limits:
            term = self._planned(teacher, {**options, "time_limit": limit})
            if not term.summary:
                raise CommandError(unmarked(term.run.job.error) or "The planner made no timetable.")
            could = term.summary["could_be_placed"]
            if not could or not options["until_placed"]:
                return term
            self.stderr.write(f"  Up to {could} owed minutes that it leaves out could have a place.")
            for week in WeekPlan.objects.filter(plan_run=term.run, status=WeekPlan.Status.DRAFT):
                week_discard(actor=teacher, week=week)
        raise CommandError("No timetable was found that places all that could be placed, so no drafts are left.")

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
