"""``manage.py serve``: the web server, with its settings from where all the others come from."""

import signal
import sys
from types import FrameType
from typing import Any

import waitress
from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError

from config.running.serving import server_options


class Command(BaseCommand):
    """Serves the pages until it is told to end."""

    help = "Serve the pages at WEB_LISTEN until SIGTERM or Ctrl-C; requests in hand are finished first."

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve."""
        try:
            how = server_options()
        except ImproperlyConfigured as error:
            raise CommandError(str(error)) from error
        # Starts the worker thread where the settings ask for one, so it isn't loaded with every command.
        from config.wsgi import application  # noqa: PLC0415

        def end(_signal: int, _frame: FrameType | None) -> None:
            sys.exit(0)

        signal.signal(signal.SIGTERM, end)
        waitress.serve(application, **how)
