"""``manage.py backup FILE``: the whole database in one file, while the program runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.errors import ApplicationError
from config.backup.services import backup_make


class Command(BaseCommand):
    """Takes a backup and says what is in it."""

    help = (
        "Write the whole database, as it is at one moment, to a file. The program may keep running. "
        "restore puts it back."
    )
    # Whatever the settings lack, a backup can be made.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to."""
        parser.add_argument("file", type=Path, help="a new file, or a folder in which one is made")

    def handle(self, *args: Any, **options: Any) -> None:
        """Take it, or say what is wrong."""
        try:
            file, manifest = backup_make(path=options["file"], now=timezone.now())
        except ApplicationError as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{file} ({file.stat().st_size / 1e6:,.1f} MB) holds {manifest.contents.words}.")
        self.stdout.write("It holds everything about every student: keep it where only you can read it.")
