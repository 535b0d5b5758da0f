"""A search in parts: whoever works on them in whatever order, the proposals are the same.

What is asserted are the rules of docs/who-serves-whom.md; no outside source.
"""

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

import pytest
from django.db.models.functions import Now

from jobs.errors import GoOnLaterError, LeaseLostError
from jobs.models import Job
from jobs.runner import run_job
from jobs.services import job_claim, job_start_again
from schedule.assigning.models import AssigningPart, AssigningRun
from schedule.assigning.selectors.standing import run_get
from schedule.assigning.services import parts as services
from schedule.assigning.services.parts import PART, assigning_work
from schedule.assigning.services.runs import assigning_save, assigning_start, assigning_stop
from tests.conftest import Cast
from tests.schedule.assigning.ground import BEFORE, DAY, make_crossed, proposed

AROUND = "Looking around each teacher"

type Heard = Callable[[str], object]


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Each teacher has students at the other's end of the road."""
    return make_crossed(cast)


def asked(cast: Cast, **values: Any) -> AssigningRun:
    teachers = [cast.teacher, cast.mate]
    return assigning_start(
        actor=cast.coordinator, teachers=teachers, first_day=DAY, minutes=1, now=BEFORE, **values
    )


def kept_in(row: AssigningRun) -> list[tuple[str, object]]:
    """Every proposal with all its figures."""
    return list(row.proposals.values_list("title", "found"))


def worked(row: AssigningRun, heard: Heard, *, stop: Callable[[], bool] = lambda: False) -> Mapping[str, Any]:
    """The run's own work, with something else that happens at each report."""

    def report(told: Mapping[str, Any]) -> None:
        heard(str(told["message"]))

    return assigning_work(
        row=row,
        report=report,
        stop_asked=stop,
        keep=lambda write: write(),
    )


def waiting_parts(row: AssigningRun) -> list[AssigningPart]:
    return list(row.parts.filter(job__state=Job.State.WAITING).order_by("place"))


def test_every_part_has_a_job_and_is_gone_in_the_end(ground: Cast) -> None:
    """Two teachers and three proposals: 2 weeks of today, 3 searches, 6 parts in each of 3 rounds."""
    row = proposed(ground)
    assert row.job.state == Job.State.DONE, row.job.error
    done = Job.objects.filter(kind=PART, state=Job.State.DONE)
    assert done.count() == 2 + 3 + 6 + 6 + 6
    assert set(done.values_list("attempts", flat=True)) == {1}
    assert not row.parts.exists()
    assert row.kept == {}


def test_other_workers_who_take_the_last_parts_first_change_nothing(ground: Cast) -> None:
    plain = kept_in(proposed(ground))
    row, others = asked(ground), list[str]()

    def another_worker(message: str) -> None:
        for part in waiting_parts(row)[:0:-1]:
            others.append(part.key)
            assert run_job(part.job_id)

    found = worked(row, another_worker)
    assert len(others) == 1 + 2 + 5 + 5 + 5
    assigning_save(row=row, found=found)
    assert len(plain) == 4
    assert kept_in(row) == plain


@pytest.mark.parametrize("where", ["Counting", "Looking over", AROUND, f"{AROUND}, turn 2", "Planning each"])
def test_a_run_that_was_interrupted_finds_the_same(ground: Cast, where: str) -> None:
    plain = kept_in(proposed(ground))
    row = asked(ground)

    def lost(message: str) -> None:
        # After the first part of the round, as when the worker is killed while it has the second.
        if message.startswith(where) and row.parts.latest("round", "-place").found:
            raise LeaseLostError

    with pytest.raises(LeaseLostError):
        worked(row, lost)
    done = set(row.parts.exclude(found={}).values_list("job", flat=True))
    assert done
    assert run_job(row.job_id)
    row = run_get(ground.coordinator, row.pk)
    assert row.job.state == Job.State.DONE, row.job.error
    assert kept_in(row) == plain
    # What was done before wasn't done again.
    assert set(Job.objects.filter(pk__in=done).values_list("attempts", flat=True)) == {1}


def test_a_part_whose_worker_is_lost_is_taken_again(ground: Cast) -> None:
    plain = kept_in(proposed(ground))
    row, taken = asked(ground), list[UUID]()

    def lost(message: str) -> None:
        if message.startswith(AROUND) and not taken:
            claim = job_claim(job_id=waiting_parts(row)[2].job_id)
            assert claim is not None
            Job.objects.filter(pk=claim.job_id).update(lease_until=Now())
            taken.append(claim.job_id)

    assigning_save(row=row, found=worked(row, lost))
    assert kept_in(row) == plain
    assert list(Job.objects.filter(pk__in=taken).values_list("state", "attempts")) == [(Job.State.DONE, 2)]


def test_stopping_ends_all_parts_and_keeps_what_is_there(ground: Cast) -> None:
    row = asked(ground)

    def stopping(message: str) -> None:
        if message.startswith(AROUND):
            assigning_stop(actor=ground.coordinator, row=row)

    def is_stopped() -> bool:
        return Job.objects.get(pk=row.job_id).stop_asked

    found = worked(row, stopping, stop=is_stopped)
    assert set(row.parts.filter(round=2).values_list("job__state", flat=True)) == {Job.State.STOPPED}
    assert not row.parts.filter(round=3).exists()
    assigning_save(row=row, found=found)
    assert len(kept_in(row)) == 4


def test_a_run_stopped_before_it_counted_anything_has_no_proposal(ground: Cast) -> None:
    row = asked(ground)
    found = worked(row, lambda message: None, stop=lambda: True)
    assert assigning_save(row=row, found=found) == []


def test_a_part_that_broke_off_breaks_the_run_off_which_can_be_started_again(ground: Cast) -> None:
    plain = kept_in(proposed(ground))
    row = asked(ground)
    job = Job.objects.create(kind=PART, state=Job.State.FAILED, broke_off=True, attempts=3)
    first = {"round": 0, "place": 0, "key": f"0:today:{ground.mate.pk}", "wanted": "today"}
    part = row.parts.create(**first, teacher=str(ground.mate.pk), job=job)
    # It is begun again with the run; that its job has gone meanwhile breaks it off anew.
    part.job.kind = "nobody knows"
    part.job.save()
    assert run_job(row.job_id)
    row = run_get(ground.coordinator, row.pk)
    assert (row.job.state, row.job.broke_off) == (Job.State.FAILED, True)
    Job.objects.filter(pk=job.pk).update(kind=PART, broke_off=True)
    assert job_start_again(job=row.job)
    assert run_job(row.job_id)
    row = run_get(ground.coordinator, row.pk)
    assert row.job.state == Job.State.DONE, row.job.error
    assert kept_in(row) == plain


def test_a_long_run_is_given_back_and_gone_on_with(ground: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = kept_in(proposed(ground))
    monkeypatch.setattr(services, "A_TURN", 0.0)
    row = asked(ground)
    with pytest.raises(GoOnLaterError):
        worked(row, lambda message: None)
    monkeypatch.undo()
    monkeypatch.setattr(services, "A_MINUTE", 1.0)
    assert run_job(row.job_id)
    assert kept_in(row) == plain
