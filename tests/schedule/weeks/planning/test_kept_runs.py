"""A run that is interrupted goes on from what it had: the weeks that are done, the best plan of the one at hand."""

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from accounts.models import Person
from jobs.context import JobContext
from jobs.errors import LeaseLostError
from jobs.models import Job
from jobs.services import Claim, job_claim, job_release, jobs_sweep
from schedule.job_handlers import plan_week
from schedule.planner.result import Itinerary
from schedule.planner.solve import solve
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.services import runs, with_drafts
from schedule.weeks.services.kept import RunKept
from schedule.weeks.services.runs import plan_run_start
from schedule.weeks.versions.content import content_read
from tests.conftest import Cast
from tests.planner.builders import random_tiny_week
from tests.schedule.builders import MONDAY, date, make_ground, make_line


class PowerCutError(Exception):
    """The program ends here: nothing after it is done."""


class CutOff(JobContext):
    """A worker whose power is cut when it comes to the second week."""

    def report(self, progress: Mapping[str, Any]) -> None:
        if progress["week_number"] == 2:
            raise PowerCutError
        super().report(progress)


@pytest.fixture
def run(cast: Cast) -> PlanRun:
    """Two weeks asked for."""
    make_ground(cast)
    make_line(cast, "G1")
    return plan_run_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(11), time_limit=1
    )


def claimed(run: PlanRun) -> Claim:
    claim = job_claim(job_id=run.job_id)
    assert claim is not None
    return claim


def cut_off_in_the_second_week(run: PlanRun) -> None:
    """And given back, as the sweeper does once the lease has run out."""
    claim = claimed(run)
    with pytest.raises(PowerCutError):
        plan_week(CutOff(claim))
    job_release(claim=claim)
    assert jobs_sweep() == 1
    run.refresh_from_db()


def test_weeks_that_are_done_are_not_planned_again(run: PlanRun, monkeypatch: pytest.MonkeyPatch) -> None:
    cut_off_in_the_second_week(run)
    assert not WeekPlan.objects.exists()
    assert set(run.kept["weeks"]) == {MONDAY.isoformat()}
    planned: list[dt.date] = []
    load = with_drafts.week_around

    def counted(teacher: Person, monday: dt.date, *rest: Any) -> Any:
        planned.append(monday)
        return load(teacher, monday, *rest)

    monkeypatch.setattr(runs, "week_around", counted)
    said: list[str] = []

    class Listening(JobContext):
        """Hears what the run says."""

        def report(self, progress: Mapping[str, Any]) -> None:
            said.append(str(progress["message"]))
            super().report(progress)

    before = [one["start"] for one in run.kept["weeks"][MONDAY.isoformat()]["content"]["sessions"]]
    plan_week(Listening(claimed(run)))
    run.refresh_from_db()
    assert planned == [MONDAY + dt.timedelta(days=7)]
    assert any("Going on from what was found before the interruption." in one for one in said)
    assert Job.objects.get().state == Job.State.DONE
    assert [week.monday for week in run.weeks.order_by("monday")] == [MONDAY, MONDAY + dt.timedelta(days=7)]
    first = run.weeks.get(monday=MONDAY)
    assert sorted(one.start for one in content_read(first).sessions) == sorted(before)
    assert run.kept == {}


def test_nothing_is_kept_by_a_worker_that_lost_its_lease(run: PlanRun) -> None:
    claim = claimed(run)
    job_release(claim=claim)
    jobs_sweep()
    second = claimed(run)
    context = JobContext(claim)
    with pytest.raises(LeaseLostError):
        context.keep(lambda: PlanRun.objects.update(kept={"weeks": {"old": 1}}))
    run.refresh_from_db()
    assert run.kept == {}
    assert JobContext(second).keep(lambda: PlanRun.objects.update(kept={"weeks": {}, "at_hand": {}}))


# ---- the week at hand ------------------------------------------------------------------------------------


class Hand:
    """A clock that is turned by hand."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


@dataclass
class Rows:
    """What was written, and whether it can be."""

    can: bool = True
    kept: list[Mapping[str, Any]] = field(default_factory=list)

    def write(self, one: Mapping[str, Any]) -> bool:
        self.kept.append(one)
        return self.can


def test_the_best_plan_of_the_week_at_hand_is_kept_and_gone_on_from() -> None:
    """The second search is stopped at once, and still has what the first had found."""
    problem = random_tiny_week(36)
    clock, rows = Hand(), Rows()
    kept = RunKept(rows.write, clock=clock)
    kept.begin(MONDAY)
    clock.now += 3
    first = solve(problem, time_limit=20, found=kept.better)
    clock.now += 20
    kept.tick()
    assert first.plan is not None
    again = RunKept(lambda one: True, **json.loads(json.dumps(rows.kept[-1])), clock=clock)
    assert again.begin(MONDAY) == 23.0
    begun = again.plan(problem)
    assert begun is not None
    assert begun.sessions == first.plan.sessions
    second = solve(problem, time_limit=20, begun=begun, stop=lambda: True)
    assert second.plan is not None
    assert second.figures == first.figures
    fresh = solve(problem, time_limit=20, stop=lambda: True)
    assert fresh.figures != first.figures, "or else this shows nothing"
    assert again.begin(MONDAY + dt.timedelta(days=7)) == 0.0
    assert again.plan(problem) is None


def test_it_is_written_every_two_seconds_at_most() -> None:
    clock, rows = Hand(), Rows()
    kept = RunKept(rows.write, clock=clock)
    kept.begin(MONDAY)
    for _ in range(5):
        kept.better(Itinerary(()))
    assert len(rows.kept) == 1
    clock.now += 2
    kept.tick()
    kept.tick()
    assert len(rows.kept) == 2


def test_what_could_not_be_written_from_another_thread_is_written_later() -> None:
    clock, rows = Hand(), Rows(can=False)
    kept = RunKept(rows.write, clock=clock)
    kept.begin(MONDAY)
    kept.better(Itinerary(()))
    rows.can, clock.now = True, clock.now + 2
    kept.tick()
    clock.now += 2
    kept.tick()
    assert len(rows.kept) == 2
