"""``manage.py load_rotations``: who is at which station in the invented district's classes, behind and ahead."""

from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from caseload.plans.naming import unmarked
from schedule.demo.services.past import demo_people
from schedule.demo.services.rotations import demo_rotations_make
from schedule.imports.services.demo import TIME_ZONE


class Command(BaseCommand):
    """Works out the demo's rotations that there aren't yet."""

    help = "Work out the station rotations of the demo's classes, for sessions that have none."

    def handle(self, *args: Any, **options: Any) -> None:
        """Work them out and say how many."""
        today = timezone.localdate(timezone=ZoneInfo(TIME_ZONE))
        try:
            made = demo_rotations_make(teacher=demo_people("teacher"), today=today)
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        if made:
            told = f"Who is at which station is worked out for {made} sessions of classes."
            # Beside what stands in the demo, like the words of planning: a second run has nothing to tell.
            self.stderr.write(told, style_func=str)
