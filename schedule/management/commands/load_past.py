"""``manage.py load_past``: a term behind the invented district, logged day by day."""

from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from caseload.plans.naming import unmarked
from schedule.demo.services.past import demo_past_load, demo_people
from schedule.imports.services.demo import TIME_ZONE


class Command(BaseCommand):
    """Loads the past of the demo once."""

    help = "Load a term of weeks, log entries, make-ups and trips behind the demo, once."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load and say how much."""
        try:
            past = demo_past_load(
                teacher=demo_people("teacher"),
                coordinator=demo_people("coordinator"),
                folder=settings.BASE_DIR / "fixtures" / "past",
                today=timezone.localdate(timezone=ZoneInfo(TIME_ZONE)),
            )
        except ApplicationError as error:
            raise CommandError(unmarked(error.message)) from error
        if past.weeks:
            self.stdout.write(
                f"Behind it lie {past.weeks} weeks: {past.entries} log entries, {past.make_ups} make-ups, "
                f"{past.trips} trips, {past.points} data points of goals."
            )
