"""Running a handler: what it may do, and what becomes of the job when it doesn't come back in order."""

import logging
import threading

import pytest
from django.db import OperationalError, connection

from accounts.models import District
from jobs import registry
from jobs.beside import start_beside
from jobs.context import JobContext
from jobs.errors import GoOnLaterError, JobError, LeaseLostError
from jobs.models import Job
from jobs.registry import Handler, job_handler, regular_work
from jobs.runner import BROKE, UNKNOWN_KIND, run_job, work, work_once
from jobs.services import job_add, job_stop_ask
from jobs.tasks import ask_regularly

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_handlers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Handlers that a test registers are forgotten after it."""
    monkeypatch.setattr(registry, "_handlers", {})


def run(handler: Handler, **payload: object) -> Job:
    """Add a job for a handler, run it, and give back the row as it stands then."""
    job_handler("test")(handler)
    job = job_add(kind="test", payload=payload)
    assert run_job(job.pk)
    job.refresh_from_db()
    return job


def test_a_handler_that_returns_has_done_its_job() -> None:
    """State, end and last report are in the row; a second run finds nothing to do."""
    job = run(lambda job: job.report({"doubled": job.payload["number"] * 2}), number=21)
    assert (job.state, job.progress, job.attempts) == ("done", {"doubled": 42}, 1)
    assert job.started_at is not None
    assert job.ended_at is not None
    assert not run_job(job.pk)
    assert not work_once()


def test_a_job_that_is_given_back_is_gone_on_with_and_loses_no_attempt() -> None:
    """Five turns with three attempts allowed: what a handler keeps is there in the next turn."""
    turns: list[int] = []

    def handler(job: JobContext) -> None:
        turns.append(job.attempt)
        if len(turns) < 5:
            raise GoOnLaterError

    job = run(handler)
    assert (job.state, job.attempts, job.attempts_allowed) == ("waiting", 0, 3)
    while work_once():
        pass
    job.refresh_from_db()
    assert (job.state, job.attempts, turns) == ("done", 1, [1] * 5)


def test_effect_and_end_are_one_transaction() -> None:
    """A fault after the effect was written takes the effect back and fails the job."""

    def handler(job: JobContext) -> None:
        with job.finishing():
            District.objects.create(name="Half Done Hills")
            raise ZeroDivisionError

    job = run(handler)
    assert (job.state, job.error) == ("failed", BROKE)
    assert not District.objects.exists()


def test_the_effect_is_refused_without_the_lease() -> None:
    """The handler took so long that the job went to another worker: the body of `finishing` never runs."""

    def handler(job: JobContext) -> None:
        Job.objects.filter(pk=job.job_id).update(lease_token=None, state=Job.State.WAITING)
        with job.finishing():
            District.objects.create(name="Late Lowlands")

    assert run(handler).state == Job.State.WAITING
    assert not District.objects.exists()


def test_a_handler_learns_that_its_lease_is_gone() -> None:
    """Asking whether to stop tells it, so that it needn't compute to the end."""
    seen: list[str] = []

    def handler(job: JobContext) -> None:
        Job.objects.filter(pk=job.job_id).update(lease_token=None, state=Job.State.WAITING)
        try:
            job.stop_asked()
        except LeaseLostError:
            seen.append("lost")
            raise

    run(handler)
    assert seen == ["lost"]


def test_a_stopped_handler_keeps_its_best_so_far() -> None:
    """Asked to stop in the middle, it saves what it has; the job ends as stopped."""

    def handler(job: JobContext) -> None:
        done = 0
        while not job.stop_asked():
            done += 1
            job_stop_ask(job=Job.objects.get(pk=job.job_id))
            job._looked_at = 0.0
        with job.finishing():
            District.objects.create(name=f"Stopped after {done}")

    assert run(handler).state == Job.State.STOPPED
    assert District.objects.get().name == "Stopped after 1"


def test_a_job_error_is_told_in_its_own_words() -> None:
    """What a handler says on purpose reaches the person who asked."""

    def handler(job: JobContext) -> None:
        raise JobError("No school day lies between these dates. Choose others.")

    job = run(handler)
    assert (job.state, job.error) == ("failed", "No school day lies between these dates. Choose others.")


def test_a_fault_tells_neither_row_nor_log_a_name(caplog: pytest.LogCaptureFixture) -> None:
    """The exception's message may quote a student: only its kind, its line and the job's id are logged."""

    def handler(job: JobContext) -> None:
        raise ValueError("Ola Tarn has no plan")

    with caplog.at_level(logging.INFO):
        job = run(handler)
    assert (job.state, job.error) == ("failed", BROKE)
    assert str(job.pk) in caplog.text
    assert "ValueError at test_runner.py" in caplog.text
    assert "Tarn" not in caplog.text


def test_a_database_that_is_away_means_try_again() -> None:
    """The lease is given up, and the next worker does the job."""

    def handler(job: JobContext) -> None:
        if job.attempt == 1:
            raise OperationalError("database is locked")

    job = run(handler)
    assert job.state == Job.State.RUNNING
    assert work_once()
    job.refresh_from_db()
    assert (job.state, job.attempts) == ("done", 2)


def test_an_unknown_kind_fails_in_words() -> None:
    """Such as a job from a newer version of the program."""
    job = job_add(kind="from_the_future", payload={})
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error) == ("failed", UNKNOWN_KIND)


def test_a_kind_has_one_handler() -> None:
    """A second function for the same kind is a mistake; the same one twice is not."""

    def one(job: JobContext) -> None:
        """Nothing."""

    def other(job: JobContext) -> None:
        """Nothing."""

    assert job_handler("test")(one) is job_handler("test")(one)
    with pytest.raises(ValueError, match="Two handlers for jobs of kind test"):
        job_handler("test")(other)


def test_reports_from_a_solvers_thread_use_no_database() -> None:
    """A solver calls back from threads of its own: they open no connection, and the last report is kept."""
    opened: list[bool] = []

    def handler(job: JobContext) -> None:
        def call_back() -> None:
            job.report({"best": 12})
            assert not job.stop_asked()
            opened.append(connection.connection is not None)

        thread = threading.Thread(target=call_back)
        thread.start()
        thread.join()

    assert run(handler).progress == {"best": 12}
    assert opened == [False]


def test_tests_have_no_worker_of_their_own() -> None:
    """The settings of the tests ask for none, so none starts."""
    assert start_beside() is None


@pytest.mark.django_db(transaction=True)
def test_what_comes_round_by_the_clock_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker's loop asks at once and then once a minute, not at each look; Celery's beat has a task for it."""
    monkeypatch.setattr(registry, "_askers", {})
    stop = threading.Event()
    asked: list[str] = []

    @regular_work("count")
    def count() -> None:
        asked.append("x")

    @job_handler("again")
    def again(job: JobContext) -> None:
        if job.payload["left"]:
            job_add(kind="again", payload={"left": job.payload["left"] - 1})
        else:
            stop.set()

    job_add(kind="again", payload={"left": 3})
    work(stop=stop)
    assert Job.objects.filter(state=Job.State.DONE).count() == 4
    assert asked == ["x"]
    ask_regularly()
    assert asked == ["x", "x"]
    with pytest.raises(ValueError, match="named count"):
        regular_work("count")(lambda: None)
