"""The life of a job row: added once, taken once, ended once."""

import datetime as dt
import uuid
from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.dispatch import work_added
from jobs.errors import LeaseLostError
from jobs.models import Job
from jobs.services import (
    Claim,
    job_add,
    job_claim,
    job_fail,
    job_finish,
    job_release,
    job_renew,
    job_report,
    job_stop_ask,
    jobs_sweep,
)

pytestmark = pytest.mark.django_db


def taken(job: Job) -> Claim:
    """A claim on a waiting job."""
    claim = job_claim(job_id=job.pk)
    assert claim is not None
    return claim


def expire(job: Job) -> None:
    """Let the lease of a running job have ended a second ago."""
    Job.objects.filter(pk=job.pk).update(lease_until=timezone.now() - dt.timedelta(seconds=1))


@pytest.fixture
def job() -> Job:
    """A waiting job."""
    return job_add(kind="test", payload={"id": 7})


def test_a_key_has_one_unfinished_job() -> None:
    """The second addition gets the first's job; once that is over, a new one."""
    first = job_add(kind="test", payload={}, unique_key="week 7")
    assert job_add(kind="test", payload={}, unique_key="week 7") == first
    assert job_add(kind="test", payload={}, unique_key="week 8") != first
    job_finish(claim=taken(first))
    assert job_add(kind="test", payload={}, unique_key="week 7") != first


def test_without_a_key_every_addition_is_a_job() -> None:
    """An empty key is no key."""
    assert job_add(kind="test", payload={}) != job_add(kind="test", payload={})


def test_the_table_itself_refuses_a_second_job_of_a_key() -> None:
    """The constraint holds whatever the code does, among waiting and running jobs alike."""
    taken(job_add(kind="test", payload={}, unique_key="week 7"))
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.create(kind="test", unique_key="week 7")


def test_a_job_goes_with_its_transaction() -> None:
    """If the business change is rolled back, so is the job that it asked for."""
    with transaction.atomic():
        job_add(kind="test", payload={})
        transaction.set_rollback(True)
    assert not Job.objects.exists()


def test_the_worker_is_woken_after_the_commit(django_capture_on_commit_callbacks: object) -> None:
    """Not before: it would look and find nothing."""
    work_added.clear()
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]  # a fixture without types
        job_add(kind="test", payload={})
        assert not work_added.is_set()
    assert work_added.is_set()


def test_a_taken_job_is_not_taken_again(job: Job) -> None:
    """Neither by name nor as the oldest."""
    claim = taken(job)
    assert (claim.kind, dict(claim.payload), claim.attempt) == ("test", {"id": 7}, 1)
    assert job_claim(job_id=job.pk) is None
    assert job_claim() is None


def test_the_oldest_job_is_taken_first() -> None:
    """First come, first served."""
    jobs = [job_add(kind="test", payload={}) for _ in range(3)]
    claims = [job_claim() for _ in range(4)]
    assert [claim and claim.job_id for claim in claims] == [jobs[0].pk, jobs[1].pk, jobs[2].pk, None]


def test_reporting_and_renewing_keep_the_lease(job: Job) -> None:
    """Each pushes the end of the lease away again; the progress is there to be read."""
    claim = taken(job)
    expire(job)
    job_report(claim=claim, progress={"weeks_done": 1})
    assert jobs_sweep() == 0
    expire(job)
    job_renew(claim=claim)
    assert jobs_sweep() == 0
    job.refresh_from_db()
    assert job.progress == {"weeks_done": 1}


def test_a_worker_without_its_lease_can_write_nothing(job: Job) -> None:
    """The job went to another worker: report, renewal, end and failure of the first are all refused."""
    late = taken(job)
    expire(job)
    assert jobs_sweep() == 1
    current = taken(job)
    attempts: list[Callable[[], None]] = [
        lambda: job_report(claim=late, progress={"weeks_done": 9}),
        lambda: job_renew(claim=late),
        lambda: job_finish(claim=late),
        lambda: job_fail(claim=late, message="late"),
    ]
    for attempt in attempts:
        with pytest.raises(LeaseLostError):
            attempt()
    job_release(claim=late)
    job.refresh_from_db()
    assert (job.state, job.lease_token, job.progress, job.error) == ("running", current.token, {}, "")
    assert job.lease_until is not None
    assert job.lease_until > timezone.now()


def test_the_sweeper_leaves_a_live_lease_alone(job: Job) -> None:
    """Only what has expired is taken back."""
    taken(job)
    assert jobs_sweep() == 0
    job.refresh_from_db()
    assert job.state == Job.State.RUNNING


def test_a_job_that_loses_its_worker_too_often_fails_in_words() -> None:
    """Allowed two attempts: after the second loss it is failed, and the sentence names no number or code."""
    job = job_add(kind="test", payload={}, attempts_allowed=2)
    for state in ("waiting", "failed"):
        taken(job)
        expire(job)
        jobs_sweep()
        job.refresh_from_db()
        assert job.state == state
    assert job.error.startswith("The work was interrupted several times")
    assert job.ended_at is not None


def test_a_waiting_job_stops_at_once(job: Job) -> None:
    """Nobody runs it afterward."""
    job_stop_ask(job=job)
    assert job.state == Job.State.STOPPED
    assert job_claim() is None


def test_a_running_job_that_was_asked_ends_as_stopped(job: Job) -> None:
    """The worker ends it, with what it reported last."""
    claim = taken(job)
    job_stop_ask(job=job)
    assert job.state == Job.State.RUNNING
    job_finish(claim=claim, progress={"weeks_done": 1})
    job.refresh_from_db()
    assert (job.state, job.progress) == ("stopped", {"weeks_done": 1})


def test_a_stopped_job_whose_worker_is_gone_is_not_begun_again(job: Job) -> None:
    """The person wanted it to end."""
    taken(job)
    job_stop_ask(job=job)
    expire(job)
    jobs_sweep()
    job.refresh_from_db()
    assert job.state == Job.State.STOPPED


def test_stopping_what_is_over_changes_nothing(job: Job) -> None:
    """Done stays done."""
    job_finish(claim=taken(job))
    job_stop_ask(job=job)
    assert (job.state, job.stop_asked) == ("done", False)


def test_a_missing_job_is_not_claimed() -> None:
    """Such as a message in the queue whose row was deleted."""
    assert job_claim(job_id=uuid.uuid4()) is None
