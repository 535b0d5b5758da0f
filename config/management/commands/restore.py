"""``manage.py restore FILE``: put a backup back, while the program is stopped."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from config.backup.archive import Manifest
from config.backup.contents import moment_words
from config.backup.services import backup_check, backup_restore


class Command(BaseCommand):
    """Puts a backup back, or only looks at it."""

    help = "Put back a backup that manage.py backup wrote. Stop the web server, worker and beat first."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which one, and over what."""
        parser.add_argument("file", type=Path, help="what manage.py backup wrote")
        parser.add_argument("--check", action="store_true", help="read the backup to its end and change nothing")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="replace what this database holds (it is backed up first)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it, or say what is wrong."""
        try:
            if options["check"]:
                manifest = backup_check(path=options["file"])
                self.stdout.write(f"{_told(options['file'], manifest)} It is whole and can be restored here.")
                return
            manifest, before = backup_restore(path=options["file"], replace=options["replace"], now=timezone.now())
        except ApplicationError as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{_told(options['file'], manifest)} It is restored.")
        if before is not None:
            self.stdout.write(f"What stood here before is in {before}; restore that to take this back.")
        self.stdout.write("Everyone signs in again. Work that was under way in the backup is stopped.")


def _told(file: Path, manifest: Manifest) -> str:
    return f"{file} was made on {moment_words(manifest.made_at)} and holds {manifest.contents.words}."
