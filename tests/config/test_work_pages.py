"""Work that broke off: the district's coordinators see it and start it again; what was refused isn't listed."""

import uuid

import pytest
from django.db import OperationalError
from django.test import Client

from accounts.models import AuditEntry
from config.work.selectors import WORDS
from jobs import registry
from jobs.context import JobContext
from jobs.errors import JobError
from jobs.models import Job
from jobs.runner import work_once
from jobs.services import CUT_OFF, job_add
from tests.api import Api
from tests.conftest import Cast

KIND = "send_notice"
WORDS_OF_KIND = "Sending a message"


@pytest.fixture
def job(cast: Cast) -> Job:
    """One of the district."""
    return job_add(kind=KIND, payload={}, district=cast.district.pk, unique_key="once")


def _run(monkeypatch: pytest.MonkeyPatch, error: Exception | None) -> list[str]:
    """Do all that waits, with this for an outcome; the ids of what was begun."""
    begun: list[str] = []

    def handler(context: JobContext) -> None:
        begun.append(context.job_id)
        if error is not None:
            raise error

    monkeypatch.setitem(registry._handlers, KIND, handler)
    for _ in range(8):
        work_once()
    return begun


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("error", "attempts"), [(ZeroDivisionError(), 1), (OperationalError(), 3)], ids=["a fault", "cut off"]
)
def test_broken_work_is_seen_and_started_again(
    cast: Cast, client: Client, job: Job, monkeypatch: pytest.MonkeyPatch, error: Exception, attempts: int
) -> None:
    assert len(_run(monkeypatch, error)) == attempts
    client.force_login(cast.coordinator)
    page = client.get("/work/").content.decode()
    assert WORDS_OF_KIND in page
    assert f"after {attempts} attempt" in page
    (listed,) = Api(cast.coordinator).get("work/")
    assert (listed["id"], listed["what"], listed["attempts"]) == (str(job.pk), WORDS_OF_KIND, attempts)
    # Another district's coordinator sees nothing of it.
    assert Api(cast.stranger).get("work/") == []
    assert Api(cast.stranger).post(f"work/{job.pk}/start-again/", expect=404)["code"] == "not_found"
    answer = client.post(f"/work/{job.pk}/start-again/", follow=True)
    assert "Nothing has broken off." in answer.content.decode()
    assert AuditEntry.objects.get(action="work_start_again").object_id == str(job.pk)
    assert _run(monkeypatch, None) == [str(job.pk)]
    job.refresh_from_db()
    assert (job.state, job.attempts, job.error, job.broke_off) == ("done", 1, "", False)


@pytest.mark.django_db
def test_what_was_refused_is_said_where_it_was_asked(cast: Cast, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    _run(monkeypatch, JobError("Add bells first."))
    assert Api(cast.coordinator).get("work/") == []
    Api(cast.coordinator).post(f"work/{job.pk}/start-again/", expect=404)
    Api(cast.coordinator).post(f"work/{uuid.uuid4()}/start-again/", expect=404)


@pytest.mark.django_db
def test_nothing_is_started_beside_the_same_asked_for_since(cast: Cast, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(state=Job.State.FAILED, broke_off=True, error=CUT_OFF)
    again = job_add(kind=KIND, payload={}, district=cast.district.pk, unique_key="once")
    body = Api(cast.coordinator).post(f"work/{job.pk}/start-again/", expect=409)
    assert body["code"] == "asked_since"
    assert list(Job.objects.filter(state=Job.State.WAITING)) == [again]


def test_every_kind_of_work_has_its_words() -> None:
    ours = {kind for kind in registry._handlers if not kind.startswith(("side.", "test"))}
    assert ours <= set(WORDS)
