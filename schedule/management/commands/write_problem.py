"""``manage.py write_problem``: what the planner would be asked for a teacher's week, as a problem file."""

import datetime as dt
import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts.errors import ApplicationError
from caseload.plans.naming import unmarked
from schedule.management.asked import add_week_arguments, monday_asked_for, teacher_asked_for
from schedule.planner.jsonform import problem_to_json
from schedule.weeks.models import PlanRun
from schedule.weeks.services.runs import run_week_load
from schedule.weeks.versions.history import content_in_force

_TO_SUNDAY = dt.timedelta(days=6)


class Command(BaseCommand):
    """Writes a file that ``solve_week`` reads; nothing is planned and nothing saved."""

    help = (
        "Write the planning problem of a teacher's week to a file (docs/problem-file.md), to plan it elsewhere or "
        "to show why planning takes long. It holds students' codes, no names. By default the next full school week."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whose week, which week, and where to."""
        parser.add_argument("file", type=Path, help="the file to write")
        add_week_arguments(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        """Load as a run of the planner does, and write."""
        teacher = teacher_asked_for(options)
        monday = monday_asked_for(options, teacher)
        asked = PlanRun(
            teacher=teacher, first_date=monday, last_date=monday + _TO_SUNDAY, aim=options["aim"], keep_pins=True
        )
        try:
            loaded = run_week_load(asked, monday, {}, content_in_force(teacher, monday))
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        text = json.dumps(problem_to_json(loaded.problem), indent=2, ensure_ascii=False)
        try:
            options["file"].write_text(text + "\n", encoding="utf-8")
        except OSError as error:
            raise CommandError(f"{options['file']} can't be written: {error.strerror}.") from error
        self.stdout.write(f"The week of {monday} is in {options['file']}.")
