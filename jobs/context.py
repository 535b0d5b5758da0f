"""What a handler sees of its job: the payload, and a line back to the person who waits."""

import logging
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, transaction

from jobs.errors import LeaseLostError
from jobs.services import Claim, job_finish, job_renew, job_report

logger = logging.getLogger(__name__)

#: Seconds between two looks at the stop flag, and between two writes of progress: solvers call back often.
LOOK_AGAIN = 0.25
#: Seconds between two beats of the pulse.
BEAT = 1.0


class JobContext:
    """Handed to the handler of a job.

    `payload` and `attempt` (1 at first) say what to do. `report` and `stop_asked` may be called from any
    thread, such as a solver's: only the job's own thread and the pulse use the database.
    """

    def __init__(self, claim: Claim) -> None:
        self.claim = claim
        self.payload: Mapping[str, Any] = claim.payload
        self.attempt = claim.attempt
        self.is_finished = False
        self._thread = threading.get_ident()
        self._progress: Mapping[str, Any] | None = None
        self._unwritten = False
        self._written_at = 0.0
        self._looked_at = 0.0
        self._stop_asked = False
        self._lost = False

    @property
    def job_id(self) -> str:
        """The job's id, for logs."""
        return str(self.claim.job_id)

    def report(self, progress: Mapping[str, Any]) -> None:
        """Say how far the work is (figures and plain words, no names); it shows within about a second.

        Raises `LeaseLostError` if the job was given to another worker: let it pass, the other one does the work.
        """
        self._progress = progress
        self._unwritten = True
        self._check()
        if self._is_own_thread and time.monotonic() - self._written_at >= LOOK_AGAIN:
            self._write()

    def note(self, progress: Mapping[str, Any]) -> None:
        """The same from inside a transaction, where a write would hold the database: the pulse carries it."""
        self._progress = progress
        self._unwritten = True
        self._check()

    def stop_asked(self) -> bool:
        """Whether somebody asked to stop: end soon, and save the best so far inside `finishing`."""
        self._check()
        if self._is_own_thread and time.monotonic() - self._looked_at >= LOOK_AGAIN:
            self._look()
            self._check()
        return self._stop_asked

    def keep(self, write: Callable[[], object]) -> bool:
        """Write what was found so far, so that whoever is given the job after an interruption goes on from there.

        Only the holder of the lease writes; anyone else gets `LeaseLostError`. From another thread nothing is
        written, and the answer is False: try again from the job's own.
        """
        self._check()
        if not self._is_own_thread:
            return False
        with transaction.atomic():
            job_renew(claim=self.claim)
            write()
        return True

    @contextmanager
    def finishing(self) -> Iterator[None]:
        """The transaction in which the handler writes the job's effect: all of it and the job's end, or nothing.

        Only the holder of the lease comes in; anyone else gets `LeaseLostError` and must write nothing. A
        handler whose work has no effect in the database doesn't have to use it.
        """
        with transaction.atomic():
            job_finish(claim=self.claim, progress=self._progress)
            yield
        self.is_finished = True

    @property
    def _is_own_thread(self) -> bool:
        return threading.get_ident() == self._thread

    def _check(self) -> None:
        if self._lost:
            raise LeaseLostError

    def _write(self) -> None:
        self._unwritten = False
        self._written_at = time.monotonic()
        job_report(claim=self.claim, progress=self._progress or {})

    def _renew(self) -> None:
        self._written_at = time.monotonic()
        job_renew(claim=self.claim)

    def _look(self) -> None:
        self._looked_at = time.monotonic()
        flags = self.claim.row().values_list("stop_asked", flat=True)
        flag = next(iter(flags), None)
        self._lost = flag is None and not self.is_finished
        self._stop_asked = self._stop_asked or bool(flag)

    def _pulse_once(self) -> None:
        self._look()
        if self._lost:
            return
        if self._unwritten:
            self._write()
        elif time.monotonic() - self._written_at > settings.JOBS_LEASE_SECONDS / 4:
            self._renew()

    def _pulse(self, over: threading.Event) -> None:
        """Keep the lease and carry messages while the handler is inside a solver.

        Not for ever: a handler that hangs loses its lease after JOBS_LONGEST_SECONDS.
        """
        end = time.monotonic() + settings.JOBS_LONGEST_SECONDS
        beat = min(BEAT, settings.JOBS_LEASE_SECONDS / 4)
        try:
            while time.monotonic() < end and not self._lost and not over.wait(beat):
                try:
                    self._pulse_once()
                except LeaseLostError:
                    # Finished in the moment between the look and the renewal, or really lost: the next look tells.
                    continue
                except DatabaseError:
                    logger.warning("Job %s could not renew its lease just now.", self.job_id)
        finally:
            connection.close()

    @contextmanager
    def pulse(self) -> Iterator[None]:
        """Run the pulse beside the handler (the runner calls this).

        Inside an open transaction no other connection sees the row, so there is none then.
        """
        if connection.in_atomic_block:
            yield
            return
        over = threading.Event()
        thread = threading.Thread(target=self._pulse, args=(over,), name=f"pulse of {self.job_id}", daemon=True)
        thread.start()
        try:
            yield
        finally:
            over.set()
            thread.join()
