"""A worker of the web process's own: a process beside it, so that pages don't wait for a search that computes.

In one process they would: each question to the database hands the interpreter to the search, and takes it back only
after its switch interval (docs.python.org/3/library/sys.html#sys.setswitchinterval), some hundred times a page.
"""

import logging
import os
import subprocess
import sys
import threading
import time
from typing import BinaryIO

from django.conf import settings

from jobs.dispatch import work_added
from jobs.runner import POLL_SECONDS

logger = logging.getLogger(__name__)
FLAG = "--beside-web"
PAUSES = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
"""Seconds before a worker that ended is started again; the last for good."""
STEADY_SECONDS = 60.0
"""A worker that ran so long is started again at once: it did not fail at its start."""


def start_beside() -> threading.Thread | None:
    """Start the web process's worker, if the settings ask for one (config.wsgi and config.asgi call it).

    Management commands and tests don't pass there, so they have none. The worker ends with the web process, however
    that ends; a job that is cut off so is taken again when its lease has run out. Returns the thread that keeps it.
    """
    if not settings.WEB_STARTS_WORKER:
        return None
    keeper = threading.Thread(target=_keep, name="keeper of the worker", daemon=True)
    keeper.start()
    return keeper


def _keep() -> None:
    """Start the worker, and again whenever it ends."""
    failed = 0
    while True:
        began = time.monotonic()
        _accompany()
        failed = 0 if time.monotonic() - began > STEADY_SECONDS else failed + 1
        pause = PAUSES[min(failed, len(PAUSES)) - 1] if failed else 0.0
        logger.warning("The worker beside this web process ended; it is started again in %.0f s.", pause)
        time.sleep(pause)


def _accompany() -> None:
    """Run one worker to its end, and tell it on the way of work that was added here."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "work", FLAG]
    # Unbuffered: what can't be written is known at once, and not left for the end.
    with subprocess.Popen(command, stdin=subprocess.PIPE, bufsize=0) as worker:  # noqa: S603 -- our own command
        while worker.poll() is None:
            if work_added.wait(POLL_SECONDS) and worker.stdin is not None:
                work_added.clear()
                try:
                    worker.stdin.write(b"\n")
                except BrokenPipeError:
                    break


def follow(told: BinaryIO) -> threading.Thread:
    """In the worker: look for work whenever the web process says so, and end with it at once.

    The system closes the pipe `told` also when the web process is killed. No tidying up then: the work in hand
    could take minutes, which nobody waits for, and its lease brings it back.
    """

    def listen() -> None:
        while told.read(1):
            work_added.set()
        os._exit(0)

    listener = threading.Thread(target=listen, name="word of the web process", daemon=True)
    listener.start()
    return listener
