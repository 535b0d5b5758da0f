"""A run is measured in work: a busy machine plans the same week, and where the clock ended it, the run says so."""

import time
from collections.abc import Callable
from dataclasses import replace

import pytest

from accounts.dates import date_words
from caseload.plans.models import ServiceLine
from schedule.planner.warm import warm_up
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.services import patience
from schedule.weeks.services.runs import plan_run_save, plan_run_start, plan_run_stop, plan_run_work
from schedule.weeks.versions.content import SessionContent, content_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line

STUDENTS = 34
WORK = 1
"""Seconds: too few for a proof, so that the search is cut."""


@pytest.fixture(scope="module", autouse=True)
def _warm() -> None:
    """Compiling is no part of a search."""
    warm_up()


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01, and as many students one to one as make a week that isn't proved within the work."""
    make_ground(cast)
    return [
        make_line(
            cast, f"M{number}", building=(cast.north, cast.south)[number % 2], setting="one_to_one", largest_group=1
        )
        for number in range(STUDENTS)
    ]


def fast() -> float:
    """The clock of a machine that is ten times as slow."""
    return 10 * time.monotonic()


def worked(cast: Cast, clock: Callable[[], float]) -> tuple[PlanRun, WeekPlan]:
    """A run and its draft; its job, which no worker has, is out of the way of the next one."""
    run = plan_run_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(4), time_limit=WORK
    )
    found = plan_run_work(run=run, report=lambda progress: None, stop_asked=lambda: False, clock=clock)
    [week] = plan_run_save(run=run, found=found)
    plan_run_stop(actor=cast.teacher, run=run)
    return run, week


def sessions(week: WeekPlan) -> list[SessionContent]:
    """What the draft holds; a session's uid is made anew by each run."""
    return sorted((replace(one, uid="") for one in content_read(week).sessions), key=str)


def test_a_busy_machine_publishes_the_same_week(
    cast: Cast, caseload: list[ServiceLine], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The work ends both searches; the clock has plenty here, however fast it runs."""
    monkeypatch.setattr(patience, "CLOCK_TIMES", 500)
    (idle_run, idle), (busy_run, busy) = worked(cast, time.monotonic), worked(cast, fast)
    assert any(one["status"] == "feasible" for one in idle.figures["goals"]), "the search was cut"
    assert sessions(busy) == sessions(idle)
    assert busy.figures == idle.figures
    assert idle_run.summary["notes"] == busy_run.summary["notes"] == []


def test_a_run_says_that_the_clock_ended_it_before_its_work(cast: Cast, caseload: list[ServiceLine]) -> None:
    run, _ = worked(cast, lambda: 1000 * time.monotonic())
    [said] = run.summary["notes"]
    assert said.startswith(f"Week of {date_words(MONDAY)}: time ran out before the search had done all")


@pytest.mark.parametrize(
    ("work", "share", "limit"),
    [
        (20, 771, 60),  # one week: three times its work
        (300, 771, 771),  # the run has no more
        (180, 186, 186),
        (60, 20, 60),  # a week always has the seconds that were asked for
    ],
)
def test_the_clock_leaves_up_to_three_times_the_work(work: float, share: float, limit: float) -> None:
    assert patience.clock_limit(work, share) == limit
