"""``manage.py work``: background work in a process of its own."""

import signal
import sys
import threading
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from jobs.beside import FLAG, follow
from jobs.runner import work


class Command(BaseCommand):
    """Runs jobs until it is told to end."""

    help = "Run background work in this process until SIGTERM or Ctrl-C; the job in hand is finished first."

    def add_arguments(self, parser: CommandParser) -> None:
        """For the worker that a web process starts."""
        parser.add_argument(FLAG, action="store_true", help="End when the standard input is closed.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Loop."""
        stop = threading.Event()

        def end(_signal: int, _frame: FrameType | None) -> None:
            # Nothing else: the main thread may hold another event's lock right now.
            stop.set()

        signal.signal(signal.SIGTERM, end)
        signal.signal(signal.SIGINT, end)
        if options["beside_web"]:
            follow(sys.stdin.buffer)
        else:
            self.stdout.write("Working. Stop with Ctrl-C.")
        work(stop=stop)
