"""``manage.py plan_week``: plan one teacher's week here and now, publish it, print its figures.

A week that leaves minutes unplaced which could perhaps be placed is left a draft, and that is said.
"""

import datetime as dt
import sys
import threading
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.naming import CODES_ONLY, unmarked
from jobs.runner import run_job
from schedule.management.asked import add_week_arguments, monday_asked_for, teacher_asked_for
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.selectors.runs import run_detail
from schedule.weeks.selectors.weeks import week_detail, week_in_force
from schedule.weeks.services.runs import LONGEST_SEARCH, plan_run_start
from schedule.weeks.services.weeks import week_publish
from schedule.weeks.summary import could_be_placed, draft_words, placing_words, summary_lines

_LOOK_EVERY = 0.5  # seconds
_LONGEST_MINUTES = round(LONGEST_SEARCH / 60)
_TO_SUNDAY = dt.timedelta(days=6)


def _aimed(week: WeekPlan) -> list[str]:
    """What the week gives by its choice, and by the other one; nothing for a week that no plan made."""
    if week.plan_run is None:
        return []
    view = run_detail(week.teacher, week.plan_run, CODES_ONLY)
    return [sentence for one in view.aims for sentence in one.sentences]


class Command(BaseCommand):
    """Plans in the foreground through the same service as the page's button."""

    help = "Plan a teacher's week, publish it and print its figures. By default the next full school week."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whose week, which week, and how hard to search."""
        add_week_arguments(parser)
        parser.add_argument("--if-none", action="store_true", help="plan only if no week is in force then")
        parser.add_argument("--draft", action="store_true", help="leave the week a draft")
        parser.add_argument(
            "--publish-anyway",
            action="store_true",
            help="publish even if minutes are unplaced of which it isn't proved that they have no place",
        )
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--time-limit", type=int, default=20, help="seconds of the search's work")
        parser.add_argument(
            "--until-placed",
            action="store_true",
            help="search until everything owed is placed or proved to have no place, and then for those seconds; "
            "seconds in which the machine works for others don't count",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Plan unless a week is there and enough; print the table."""
        try:
            week = self._week(options)
            detail = week_detail(week.teacher, week, CODES_ONLY)
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        for line in summary_lines(detail):
            self.stdout.write(line)
        for sentence in _aimed(week):
            self.stdout.write(f"  {sentence}")

    def _week(self, options: dict[str, Any]) -> WeekPlan:
        """The week that was asked for: the one in force, or a new one."""
        teacher = teacher_asked_for(options)
        monday = monday_asked_for(options, teacher)
        known = week_in_force(teacher, teacher, monday) if options["if_none"] else None
        return known or self._planned(teacher, monday, options)

    def _planned(self, teacher: Person, monday: dt.date, options: dict[str, Any]) -> WeekPlan:
        run = plan_run_start(
            actor=teacher,
            teacher=teacher,
            first_date=monday,
            last_date=monday + _TO_SUNDAY,
            seed=options["seed"],
            time_limit=options["time_limit"],
            aim=Aim(options["aim"]),
            until_placed=options["until_placed"],
        )
        self.stderr.write(f"Planning the week of {monday} ...")
        if options["until_placed"]:
            self.stderr.write(
                f"  This goes on until everything owed is placed, for {options['time_limit']} s at least and "
                f"{_LONGEST_MINUTES} minutes at most. It takes longer while the machine is busy with other work."
            )
        with self._progress(teacher, run):
            run_job(run.job_id)
        view = run_detail(teacher, run, CODES_ONLY)
        if not view.weeks:
            raise CommandError(view.error or "The planner made no week.")
        for note in view.notes:
            self.stderr.write(f"  {note}")
        week = WeekPlan.objects.get(pk=view.weeks[0].week_id)
        detail = week_detail(teacher, week, CODES_ONLY)
        if options["until_placed"]:
            self.stderr.write(f"  {placing_words(detail, _LONGEST_MINUTES)}")
        if options["draft"]:
            return week
        could = could_be_placed(detail)
        if could and not options["publish_anyway"]:
            self.stderr.write(self.style.WARNING(draft_words(could, monday)))
            return week
        return week_publish(actor=teacher, week=week, expected_revision=week.revision)

    @contextmanager
    def _progress(self, teacher: Person, run: PlanRun) -> Iterator[None]:
        """Print what the run says of itself, on stderr, while the block works.

        Another connection sees nothing inside an open transaction, so then there is no progress to print.
        """
        if connection.in_atomic_block:
            yield
            return
        over = threading.Event()
        watcher = threading.Thread(target=self._watch, args=(teacher, run, over), daemon=True)
        watcher.start()
        try:
            yield
        finally:
            over.set()
            watcher.join()

    def _watch(self, teacher: Person, run: PlanRun, over: threading.Event) -> None:
        """One line that is written over on a terminal, a line for each news elsewhere."""
        shown = ""
        start, end = ("\r\x1b[K", "") if sys.stderr.isatty() else ("", "\n")
        try:
            while not over.wait(_LOOK_EVERY):
                view = run_detail(teacher, PlanRun.objects.select_related("job").get(pk=run.pk), CODES_ONLY)
                line = f"  {view.percent:3d} %  {view.technical or view.message}".rstrip()
                if line != shown:
                    self.stderr.write(f"{start}{line}", ending=end)
                    shown = line
            if shown and end == "":
                self.stderr.write("")
        finally:
            connection.close()
