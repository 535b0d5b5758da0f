"""``manage.py district_out FILE``: a whole district as one archive, while the program runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from config.moving.selectors import district_named
from config.moving.services import district_take_out


class Command(BaseCommand):
    """Takes a district out and says how much it is."""

    help = (
        "Write everything of one district, as it is at one moment, to a file that district_in takes in elsewhere."
    )
    # As with a backup, whatever the settings lack; Django's checks would wait for whoever writes just now.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to, and which."""
        parser.add_argument("file", type=Path, help="a new file, or a folder in which one is made")
        parser.add_argument("--district", default="", help="its name or number, where there are several")

    def handle(self, *args: Any, **options: Any) -> None:
        """Take it out, or say what is wrong."""
        try:
            district = district_named(options["district"])
            file, manifest = district_take_out(path=options["file"], district=district, now=timezone.now())
        except ApplicationError as error:
            raise CommandError(error.message) from error
        self.stdout.write(
            f"{file} ({file.stat().st_size / 1e6:,.1f} MB) holds {district}: {manifest.rows:,} rows of "
            f"{len(manifest.tables)} tables."
        )
        self.stdout.write("It holds everything about every student: keep it where only you can read it.")
