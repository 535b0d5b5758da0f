"""Runs jobs: one at a time, in a worker beside the web process, in one started by itself, or in Celery."""

import logging
import threading
import time
import uuid
from pathlib import Path

from django.db import InterfaceError, OperationalError, close_old_connections

from jobs.context import JobContext
from jobs.dispatch import work_added
from jobs.errors import GoOnLaterError, JobError, LeaseLostError
from jobs.registry import ask_for_regular_work, handler_of
from jobs.services import Claim, job_claim, job_fail, job_give_back, job_release, jobs_sweep

logger = logging.getLogger(__name__)

POLL_SECONDS = 1.0
REGULAR_SECONDS = 60.0
BROKE = "The work stopped because of an error in the program. Nothing was changed. Try again."
UNKNOWN_KIND = "This server doesn't know how to do that. It may be in the middle of an update: try again."


def _place_of(error: BaseException) -> str:
    """Kind of error and line of code. Not its message, which may quote a student's data."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = f"{Path(trace.tb_frame.f_code.co_filename).name}:{trace.tb_lineno}" if trace else "an unknown line"
    return f"{type(error).__name__} at {where}"


def _fail(claim: Claim, message: str, *, broke_off: bool = False) -> None:
    try:
        job_fail(claim=claim, message=message, broke_off=broke_off)
    except LeaseLostError:
        logger.warning("Job %s failed here after another worker took it.", claim.job_id)


def _handle(claim: Claim) -> None:
    handler = handler_of(claim.kind)
    if handler is None:
        raise JobError(UNKNOWN_KIND)
    context = JobContext(claim)
    with context.pulse():
        handler(context)
    if not context.is_finished:
        with context.finishing():
            pass


def _handle_or_give_back(claim: Claim) -> None:
    try:
        _handle(claim)
    except GoOnLaterError:
        logger.info("Job %s is given back, to be gone on with.", claim.job_id)
        job_give_back(claim=claim)


def run_claimed(claim: Claim) -> None:
    """Run a job that was claimed, to its end; whatever the handler raises ends the job, not the worker."""
    logger.info("Job %s (%s) starts, attempt %d.", claim.job_id, claim.kind, claim.attempt)
    try:
        _handle_or_give_back(claim)
    except LeaseLostError:
        logger.warning("Job %s was given to another worker; nothing was written here.", claim.job_id)
    except JobError as error:
        _fail(claim, error.message)
    except OperationalError as error:
        # The database was away or busy for too long: that passes, so the job is taken again.
        logger.warning("Job %s met %s; it will be tried again.", claim.job_id, _place_of(error))
        job_release(claim=claim)
    except Exception as error:
        # The worker's outermost frame: a fault in one job must not end the worker. No traceback: it may quote data.
        logger.error("Job %s broke off: %s.", claim.job_id, _place_of(error))
        _fail(claim, BROKE, broke_off=True)


def run_job(job_id: uuid.UUID) -> bool:
    """Claim one job and run it; False if it is over or in other hands. Safe to call any number of times."""
    claim = job_claim(job_id=job_id)
    if claim is None:
        return False
    run_claimed(claim)
    return True


def work_once() -> bool:
    """Sweep, then run the oldest waiting job; False if there was none."""
    jobs_sweep()
    claim = job_claim()
    if claim is None:
        return False
    run_claimed(claim)
    return True


def work(*, stop: threading.Event) -> None:
    """Run jobs until `stop` is set, looking at once when work is added here and every second for the rest.

    Once a minute what comes around by the clock is asked for.
    """
    asked_at = float("-inf")
    while not stop.is_set():
        work_added.clear()
        close_old_connections()
        try:
            if time.monotonic() - asked_at >= REGULAR_SECONDS:
                ask_for_regular_work()
                asked_at = time.monotonic()
            busy = work_once()
        except (OperationalError, InterfaceError) as error:
            logger.warning("The worker could not reach the database (%s).", _place_of(error))
            busy = False
        finally:
            close_old_connections()
        if not busy:
            work_added.wait(POLL_SECONDS)
