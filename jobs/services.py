"""Writes to job rows. Each one that depends on a state says so in its WHERE and checks the count of rows.

A worker holds a job by its lease: a token and a moment until which nobody else may take it. Times are UTC, and the
database's: clocks of machines differ, and a worker two hours ahead would take every lease for one that ran out.
"""

import datetime as dt
import logging
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Case, DateTimeField, DurationField, ExpressionWrapper, F, QuerySet, Value, When
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce, Now

from jobs.dispatch import job_announce
from jobs.errors import LeaseLostError
from jobs.models import Job
from jobs.selectors import UNFINISHED

logger = logging.getLogger(__name__)

CUT_OFF = "The work was interrupted several times before it could finish. Start it again, perhaps with fewer weeks."


@dataclass(frozen=True, slots=True)
class Claim:
    """A job in one worker's hands."""

    job_id: uuid.UUID
    token: uuid.UUID
    kind: str
    payload: Mapping[str, Any]
    attempt: int

    def row(self) -> QuerySet[Job]:
        """The job's row as long as this claim holds; empty afterward."""
        return Job.objects.filter(pk=self.job_id, lease_token=self.token, state=Job.State.RUNNING)


def _from_now(seconds: float) -> Combinable:
    """So many seconds from now, or before now, by the database's clock."""
    span = Value(dt.timedelta(seconds=seconds), output_field=DurationField())
    return ExpressionWrapper(Now() + span, output_field=DateTimeField())


def _lease_end() -> Combinable:
    return _from_now(settings.JOBS_LEASE_SECONDS)


def job_add(
    *,
    kind: str,
    payload: Mapping[str, Any],
    district: int | None = None,
    unique_key: str = "",
    attempts_allowed: int = 3,
) -> Job:
    """Ask for background work, inside the transaction of the change that needs it.

    `district` is the id of the district whose work it is: its coordinators see it if it breaks off.

    `payload` holds ids, dates and numbers, never a name. If an unfinished job has the same `unique_key`, that
    job is returned and none is added. The worker hears of it after the commit.
    """
    unfinished = Job.objects.filter(unique_key=unique_key, state__in=UNFINISHED)
    if unique_key and (existing := unfinished.first()) is not None:
        return existing
    job = Job(
        kind=kind,
        payload=dict(payload),
        district_number=district,
        unique_key=unique_key,
        attempts_allowed=attempts_allowed,
    )
    job.clean_fields(exclude=["payload", "progress"])
    try:
        with transaction.atomic():
            job.save(force_insert=True)
    except IntegrityError:
        # Somebody else's job of this key was added between the look and the insert.
        if (existing := unfinished.first()) is not None:
            return existing
        raise
    job_announce_later(job)
    return job


def job_announce_later(job: Job) -> None:
    """Tell the worker of a job after the commit.

    Robust: what is saved stays saved and the page answers, whatever keeps the message from being sent (Django logs
    it); the sweeper sends it later.
    """
    transaction.on_commit(lambda: job_announce(job.pk), robust=True)


def job_claim(*, job_id: uuid.UUID | None = None) -> Claim | None:
    """Take the oldest waiting job, or the one named, under a lease; None if there is none to take.

    The update repeats the condition that it was chosen by: of two workers who chose the same row one wins.
    """
    waiting = Job.objects.filter(state=Job.State.WAITING)
    chosen = waiting.filter(pk=job_id) if job_id is not None else waiting.order_by("created_at")
    for job in chosen[:20]:
        token = uuid.uuid4()
        taken = waiting.filter(pk=job.pk).update(
            state=Job.State.RUNNING,
            lease_token=token,
            lease_until=_lease_end(),
            attempts=F("attempts") + 1,
            started_at=Coalesce(F("started_at"), Now()),
        )
        if taken == 1:
            return Claim(job.pk, token, job.kind, job.payload, job.attempts + 1)
    return None


def job_renew(*, claim: Claim) -> None:
    """Keep the lease; raises `LeaseLostError` if it is gone."""
    if claim.row().update(lease_until=_lease_end()) != 1:
        raise LeaseLostError


def job_report(*, claim: Claim, progress: Mapping[str, Any]) -> None:
    """Say how far the work is, which also keeps the lease; raises `LeaseLostError` if it is gone."""
    if claim.row().update(progress=dict(progress), lease_until=_lease_end()) != 1:
        raise LeaseLostError


def job_finish(*, claim: Claim, progress: Mapping[str, Any] | None = None) -> None:
    """End the job as done, or as stopped if somebody asked for that; raises `LeaseLostError` without a lease.

    Call it first in the transaction that writes the job's effect: then the effect happens exactly once, however
    often the job was begun.
    """
    values: dict[str, Any] = {} if progress is None else {"progress": dict(progress)}
    state = Case(When(stop_asked=True, then=Value(Job.State.STOPPED)), default=Value(Job.State.DONE))
    if claim.row().update(state=state, ended_at=Now(), lease_token=None, lease_until=None, **values) != 1:
        raise LeaseLostError


def job_fail(*, claim: Claim, message: str, broke_off: bool = False) -> None:
    """End the job as failed with a sentence for the person who asked; raises `LeaseLostError` without a lease.

    `broke_off`: for no fault of what was asked, so that it can be started again as it is.
    """
    ended = claim.row().update(
        state=Job.State.FAILED, error=message[:500], broke_off=broke_off,
        ended_at=Now(), lease_token=None, lease_until=None,
    )  # fmt: skip
    if ended != 1:
        raise LeaseLostError


def job_start_again(*, job: Job) -> bool:
    """Have a job that broke off done after all, with all its attempts; False if it no longer has to be.

    That is when somebody was faster, or when the same was asked for since and isn't over.
    """
    broken = Job.objects.filter(pk=job.pk, state=Job.State.FAILED, broke_off=True)
    try:
        with transaction.atomic():
            begun = broken.update(
                state=Job.State.WAITING, broke_off=False, error="", attempts=0, stop_asked=False,
                started_at=None, ended_at=None, sent_at=None,
            )  # fmt: skip
    except IntegrityError:
        return False
    if begun:
        job_announce_later(job)
    return bool(begun)


def job_stop_ask(*, job: Job) -> None:
    """Ask a job to stop: one that waits stops here and now, one that runs ends with the best that it has so far.

    A job that is over stays as it ended.
    """
    with transaction.atomic():
        rows = Job.objects.filter(pk=job.pk)
        waiting = rows.filter(state=Job.State.WAITING)
        if waiting.update(state=Job.State.STOPPED, stop_asked=True, ended_at=Now()) == 0:
            rows.filter(state=Job.State.RUNNING).update(stop_asked=True)
    job.refresh_from_db()


def jobs_stop_all() -> int:
    """End every unfinished job as stopped, such as those in a backup that was put back; returns how many."""
    values: dict[str, Any] = {"lease_token": None, "lease_until": None, "ended_at": Now()}
    unfinished = Job.objects.filter(state__in=UNFINISHED)
    return unfinished.update(state=Job.State.STOPPED, stop_asked=True, **values)


def jobs_sweep() -> int:
    """Deal with jobs whose worker vanished: wait again, or end if stopped or out of attempts; returns how many."""
    count = 0
    for job in Job.objects.filter(state=Job.State.RUNNING, lease_until__lte=Now())[:50]:
        values: dict[str, Any] = {"state": Job.State.WAITING}
        if job.stop_asked:
            values = {"state": Job.State.STOPPED, "ended_at": Now()}
        elif job.attempts >= job.attempts_allowed:
            values = {"state": Job.State.FAILED, "ended_at": Now(), "error": CUT_OFF, "broke_off": True}
        still_expired = Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, lease_token=job.lease_token)
        swept = still_expired.filter(lease_until__lte=Now()).update(
            lease_token=None, lease_until=None, sent_at=None, **values
        )
        if swept:
            logger.warning("Job %s lost its worker; it is %s now.", job.pk, values["state"])
        count += swept
    return count


def job_release(*, claim: Claim) -> None:
    """Give a job back before its time, to be taken again once its lease has run out (a database that is away)."""
    claim.row().update(lease_until=Now())


def job_give_back(*, claim: Claim) -> None:
    """Let a job wait again that its handler goes on with later; raises `LeaseLostError` without a lease.

    It has lost no attempt by that.
    """
    with transaction.atomic():
        given = claim.row().update(
            state=Job.State.WAITING, attempts=F("attempts") - 1, lease_token=None, lease_until=None, sent_at=None
        )
        if given != 1:
            raise LeaseLostError
        transaction.on_commit(lambda: job_announce(claim.job_id), robust=True)


def stale_jobs_send() -> int:
    """Send every job again that has waited unsent, or long since it was sent; returns how many went out.

    A job that was sent twice is run once: the second run finds it taken.
    """
    long_ago = _from_now(-settings.JOBS_SEND_AGAIN_SECONDS)
    waiting = Job.objects.filter(state=Job.State.WAITING)
    stale = waiting.filter(sent_at__isnull=True) | waiting.filter(sent_at__lt=long_ago)
    return sum(job_announce(job_id) for job_id in stale.values_list("pk", flat=True)[:500])
