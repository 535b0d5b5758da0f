"""``manage.py load_demo``: the invented district, through the same imports as anybody's files."""

from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from schedule.imports.services.demo import DISTRICT_NAME, LOGINS, PASSWORD, TIME_ZONE, demo_district_load


class Command(BaseCommand):
    """Loads the demo once; says who can sign in every time."""

    help = "Load the invented district of the demo into an empty database; does nothing if it is there already."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whether to load beside another district."""
        parser.add_argument(
            "--force", action="store_true", help="load beside another district; its password is public"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Load and print the sign-in names."""
        try:
            loaded = demo_district_load(
                folder=settings.BASE_DIR / "fixtures",
                today=timezone.localdate(timezone=ZoneInfo(TIME_ZONE)),
                force=options["force"],
            )
        except ApplicationError as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{DISTRICT_NAME} is {'loaded' if loaded else 'in place'}. Everything in it is invented.")
        self.stdout.write("Sign in as any of these, as often as you like:")
        width = max(len(login.username) for login in LOGINS)
        for login in LOGINS:
            self.stdout.write(f"  {login.username:<{width}}  {PASSWORD}  {login.note}")
