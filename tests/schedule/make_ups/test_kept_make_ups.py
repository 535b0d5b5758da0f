"""A run over make-ups that is interrupted goes on from the places that it had found."""

from collections.abc import Mapping
from typing import Any

import pytest

from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import delivery_correct
from caseload.delivery.told import AS_PLANNED
from jobs.context import JobContext
from jobs.services import Claim, job_claim, job_release, jobs_sweep
from schedule.job_handlers import plan_make_ups
from schedule.make_ups.selectors.places import MakeUpPlace, MakeUpWeek
from schedule.make_ups.services import kept
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.models import PlannedSession, PlanRun
from tests.conftest import Cast
from tests.schedule.log_builders import evening_of
from tests.schedule.make_ups.test_plan_all import SUNDAY, missed
from tests.schedule.runs import worked


class PowerCutError(Exception):
    """The program ends here: nothing after it is done."""


class CutOff(JobContext):
    """A worker whose power is cut when all places are known."""

    def report(self, progress: Mapping[str, Any]) -> None:
        if progress["message"].startswith("Choosing"):
            raise PowerCutError
        super().report(progress)


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, ...]]:
    """The lines of each make-up whose places are looked for in a week, as they are; written at once."""
    found: list[tuple[int, ...]] = []
    places = MakeUpWeek.places

    def counted(self: MakeUpWeek, make_up: Any, *rest: Any) -> list[MakeUpPlace]:
        found.append(make_up.lines)
        return places(self, make_up, *rest)

    monkeypatch.setattr(MakeUpWeek, "places", counted)
    monkeypatch.setattr(kept, "WRITE_AGAIN", 0.0)
    return found


def claimed(run: PlanRun) -> Claim:
    claim = job_claim(job_id=run.job_id)
    assert claim is not None
    return claim


def cut_off(cast: Cast) -> PlanRun:
    """A run whose worker was lost, and that waits again as the sweeper has it."""
    run = make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=1)
    claim = claimed(run)
    with pytest.raises(PowerCutError):
        plan_make_ups(CutOff(claim))
    job_release(claim=claim)
    assert jobs_sweep() == 1
    run.refresh_from_db()
    return run


def drafted(run: PlanRun) -> list[tuple[str, str]]:
    """The make-ups of the run's drafts: who and when."""
    rows = PlannedSession.objects.filter(week__plan_run=run, makes_up=True)
    return sorted((one.planner_key, f"{one.date} {one.start}") for one in rows)


def test_places_are_not_looked_for_again(cast: Cast, looked: list[tuple[int, ...]]) -> None:
    missed(cast, "A1", "A2", "A3")
    run = cut_off(cast)
    assert looked
    looked.clear()
    plan_make_ups(JobContext(claimed(run)))
    run.refresh_from_db()
    assert looked == []
    assert (run.summary["minutes"], run.summary["is_proved"], run.kept) == (90, True, {})
    whole = worked(make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=1))
    assert whole != run
    assert drafted(run) == drafted(whole) != []


def test_what_is_open_otherwise_by_then_is_looked_for_anew(cast: Cast, looked: list[tuple[int, ...]]) -> None:
    """Meanwhile one session turns out to have been held: what is kept numbers other minutes."""
    held, *others = missed(cast, "A1", "A2", "A3")
    run = cut_off(cast)
    entry = DeliveryEntry.objects.get(service_line=held)
    delivery_correct(
        actor=cast.coordinator, entry=entry, outcome=AS_PLANNED, expected_revision=1, now=evening_of(SUNDAY)
    )
    looked.clear()
    plan_make_ups(JobContext(claimed(run)))
    run.refresh_from_db()
    assert {line for one in looked for line in one} == {line.pk for line in others}
    assert run.summary["minutes"] == 60
