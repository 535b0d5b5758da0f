"""Draw the data model: ``python manage.py draw_tables``."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from config.data_model import page


class Command(BaseCommand):
    """Writes docs/data-model.md from the models."""

    help = "Draw the tables and their keys into docs/data-model.md (Mermaid). Needs no database."
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the arguments."""
        parser.add_argument(
            "--file",
            type=Path,
            default=settings.BASE_DIR / "docs" / "data-model.md",
            help="where to write the page",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the page."""
        options["file"].write_text(page(), encoding="utf-8")
        self.stdout.write(f"{options['file']} written.")
