"""``manage.py district_in FILE``: take a district into an empty program."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from config.backup.contents import moment_words
from config.moving.archive import DistrictManifest
from config.moving.services import archive_check, district_take_in


class Command(BaseCommand):
    """Takes a district in, or only looks at its archive."""

    help = "Take a district that district_out wrote into an empty program, on SQLite or PostgreSQL."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which one."""
        parser.add_argument("file", type=Path, help="what manage.py district_out wrote")
        parser.add_argument("--check", action="store_true", help="read the archive to its end and change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it, or say what is wrong."""
        try:
            if options["check"]:
                manifest = archive_check(path=options["file"])
                self.stdout.write(f"{_told(options['file'], manifest)} It is whole and of this version.")
                return
            manifest = district_take_in(path=options["file"], now=timezone.now())
        except ApplicationError as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{_told(options['file'], manifest)} It is here now, row for row.")
        self.stdout.write("Everyone signs in again. Work that was under way in it is stopped.")


def _told(file: Path, manifest: DistrictManifest) -> str:
    return (
        f"{file} was made on {moment_words(manifest.made_at)} and holds {manifest.district}: "
        f"{manifest.rows:,} rows of {len(manifest.tables)} tables."
    )
