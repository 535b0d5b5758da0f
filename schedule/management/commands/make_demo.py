"""``manage.py make_demo``: everything that the demo holds, step by step, in one process."""

from argparse import ArgumentParser
from functools import partial
from typing import Any

from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand

TEACHER = "teacher"
WEEKS = 3
"""Planned as one timetable after the week that is put in force."""


class Command(BaseCommand):
    """Each step is a command of its own, too; as one process they start once."""

    help = "Make the demo's tables, district, past, next week and drafts of weeks after it. What is there stays."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """How hard to search."""
        parser.add_argument("--seconds", type=int, default=15, help="of work for the week, and for the term")

    def handle(self, *args: Any, **options: Any) -> None:
        """One step after the other; without the weeks after the first one the demo is there all the same."""
        step = partial(call_command, stdout=self.stdout, stderr=self.stderr)
        search: dict[str, Any] = {"teacher": TEACHER, "if_none": True, "until_placed": True}
        search["time_limit"] = options["seconds"]
        step("migrate", verbosity=0)
        step("load_demo")
        step("load_past")
        step("plan_week", **search)
        try:
            step("plan_term", weeks=WEEKS, **search)
        except CommandError as error:
            self.stderr.write(f"{error} No weeks after it are planned as one timetable.")
        step("load_rotations")
