"""What ended a search is always said: a proof, the clock, a person, or a limit of the method and which."""

from dataclasses import replace

import pytest

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.problem import Goal, Problem
from schedule.planner.proving import columns, exact
from schedule.planner.result import ENDED_WORDS, Ended, Result, Status
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up
from tests.planner.builders import at, service, tiny

SMALL = WeekShape(25)


@pytest.fixture(scope="module", autouse=True)
def _warm() -> None:
    """Compiling is no part of a time limit."""
    warm_up()


def week(seed: int = 1) -> Problem:
    """A week up to driving: sameness has a limit of its own."""
    return replace(generate_week(SMALL, seed), goals=(Goal.UNPLACED, Goal.WISHES, Goal.DRIVING))


def said(result: Result) -> Ended:
    """What ended it, once everything that says so agrees."""
    open_ones = [stage for stage in result.stages if stage.ended is not Ended.PROOF]
    assert result.stopped == bool(open_ones) == (result.status is not Status.OPTIMAL)
    assert result.ended is (open_ones[0].ended if open_ones else Ended.PROOF)
    assert all((stage.status is Status.OPTIMAL) == (stage.ended is Ended.PROOF) for stage in result.stages)
    if open_ones:
        assert result.message.endswith(f"{ENDED_WORDS[result.ended]}.")
        assert f"{open_ones[0].value} was reached and no plan goes below {open_ones[0].bound}" in result.message
    return result.ended


def test_a_proof_ends_a_week_that_is_proved() -> None:
    assert said(solve(tiny(service("x", at(500))), workers=1)) is Ended.PROOF


def test_the_clock_is_said() -> None:
    assert said(solve(week(), workers=1, time_limit=0.05)) is Ended.CLOCK


def test_a_person_is_said() -> None:
    assert said(solve(week(), workers=1, stop=lambda: True)) is Ended.PERSON


@pytest.mark.long
@pytest.mark.parametrize(
    ("limit", "value", "ended"),
    [
        ("ENUMERATED", 1, Ended.LABELS),
        ("MOST_COLUMNS", 1, Ended.COLUMNS),
        ("GAPS", (), Ended.GAP),
        ("MOST_NODES", 0, Ended.NODES),
    ],
)
def test_a_limit_of_the_method_is_said_by_its_name(
    monkeypatch: pytest.MonkeyPatch, limit: str, value: object, ended: Ended
) -> None:
    """The limit is set so low that it is met: what is claimed must say so, however much time there is."""
    monkeypatch.setattr(exact, limit, value)
    monkeypatch.setattr(exact, "POOL_NODES", 0)
    result = solve(week(), workers=1, time_limit=120.0)
    assert said(result) is ended


def test_more_services_than_a_day_can_tell_apart_are_said() -> None:
    """63 services on one day, more than one of them at a time can be held: the proof isn't even begun."""
    units = [service(f"s{n}", at(500 + n), minutes=5) for n in range(63)]
    assert said(solve(tiny(*units), workers=1)) is Ended.SERVICES


def test_more_steps_than_the_memory_holds_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(columns, "MOST_ARCS", 100)
    assert said(solve(week(), workers=1, time_limit=60.0)) is Ended.STARTS


def test_sameness_whose_bound_leaves_own_times_out_is_said() -> None:
    """Two sessions at 8:20 and 8:40 without usual times lie 20 minutes apart, whatever is chosen."""
    days = ("mon", "tue")
    problem = tiny(
        service("x", at(500), at(520, day="tue"), sessions=2),
        days=tuple(replace(tiny().days[0], id=day) for day in days),
        goals=(Goal.UNPLACED, Goal.DRIVING, Goal.SAMENESS),
    )
    assert said(solve(problem, workers=1)) in {Ended.OWN_TIMES, Ended.EARLIER}
