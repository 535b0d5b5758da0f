"""Handlers whose effect can be counted: one audit entry a finished job."""

import time
from pathlib import Path

from accounts.models import AuditEntry, District
from jobs.context import JobContext
from jobs.registry import job_handler
from schedule.assigning.services import parts

LONG = 600
parts.A_MINUTE = 2.0
"""Five students are soon shared out: a minute of search is two seconds of work in the side processes."""


def _note(job: JobContext) -> None:
    AuditEntry.objects.create(
        district=District.objects.get(), action="side_note", model="side", object_id=job.job_id, changes={}
    )


@job_handler("side.note")
def note(job: JobContext) -> None:
    """Write the entry."""
    with job.finishing():
        _note(job)


@job_handler("side.hang_before")
def hang_before(job: JobContext) -> None:
    """On the first attempt hang in the middle of the work; after that, write the entry."""
    job.report({"attempt": job.attempt})
    if job.attempt == 1:
        Path(job.payload["mark"]).touch()
        time.sleep(LONG)
    note(job)


@job_handler("side.hang_inside")
def hang_inside(job: JobContext) -> None:
    """On the first attempt hang with the entry written and not yet committed; after that, write the entry."""
    with job.finishing():
        _note(job)
        if job.attempt == 1:
            Path(job.payload["mark"]).touch()
            time.sleep(LONG)


@job_handler("side.pause")
def pause(job: JobContext) -> None:
    """On the first attempt take long enough to be stopped by a signal; then write the entry, if still allowed."""
    if job.attempt == 1:
        Path(job.payload["mark"]).touch()
        time.sleep(2)
    note(job)


@job_handler("side.work")
def work(job: JobContext) -> None:
    """Take a while, the last of it with the entry written and not yet committed."""
    time.sleep(0.3)
    with job.finishing():
        _note(job)
        time.sleep(0.1)
