"""``manage.py side``: what a side process does to the jobs of a database."""

import datetime as dt
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from accounts.models import District, Person
from jobs.runner import run_claimed
from jobs.services import job_add, job_claim, job_report
from schedule.assigning.services.runs import assigning_start
from schedule.weeks.services.runs import plan_run_start
from tests.conftest import make_cast
from tests.schedule.assigning.ground import BEFORE, DAY, make_crossed
from tests.schedule.builders import MONDAY, make_ground, make_line


class Command(BaseCommand):
    """Adds, claims or does jobs, and prints ids."""

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What to do, and how often."""
        parser.add_argument("deed", choices=["prepare", "plan", "assign", "add", "claim", "mix"])
        parser.add_argument("--count", type=int, default=1)
        parser.add_argument("--kind", default="side.note")
        parser.add_argument("--mark", default="")
        parser.add_argument("--at", type=float, default=0.0, help="Start at this moment, seconds since 1970.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it."""
        time.sleep(max(0.0, options["at"] - time.time()))
        getattr(self, options["deed"])(options)

    def prepare(self, options: dict[str, Any]) -> None:
        """One district, for the handlers' entries."""
        District.objects.create(name="Side Fells")

    def plan(self, options: dict[str, Any]) -> None:
        """Press the button for so many weeks of a small district."""
        cast = make_cast()
        make_ground(cast)
        for number in range(6):
            make_line(cast, f"P{number}", building=cast.north if number % 2 else cast.south)
        last = MONDAY + dt.timedelta(weeks=options["count"], days=-3)
        plan_run_start(actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=last, time_limit=2)

    def assign(self, options: dict[str, Any]) -> None:
        """Ask who of two teachers should serve whom, the same each time; ``--count`` minutes of search."""
        if not Person.objects.exists():
            make_crossed(make_cast())
        people = {
            one.username: one for one in Person.objects.filter(username__in=["coordinator", "teacher", "mate"])
        }
        coordinator = people.pop("coordinator")
        assigning_start(
            actor=coordinator, teachers=[*people.values()], first_day=DAY, minutes=options["count"], now=BEFORE
        )

    def add(self, options: dict[str, Any]) -> None:
        """Add jobs and print their ids."""
        for _ in range(options["count"]):
            with transaction.atomic():
                job = job_add(kind=options["kind"], payload={"mark": options["mark"]})
            self.stdout.write(str(job.pk))

    def claim(self, options: dict[str, Any]) -> None:
        """Claim all that there is and print the ids of what was won."""
        while (claim := job_claim()) is not None:
            self.stdout.write(str(claim.job_id))

    def mix(self, options: dict[str, Any]) -> None:
        """Add a job, take one, report and do it, again and again."""
        for _ in range(options["count"]):
            with transaction.atomic():
                job_add(kind="side.note", payload={})
            if (claim := job_claim()) is not None:
                job_report(claim=claim, progress={"step": 1})
                run_claimed(claim)
