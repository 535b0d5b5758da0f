"""The walk through a tiny week: docs/planner.md shows what it prints, and its numbers hold without the planner.

Held against every day of the week laid out one by one (``brute``, written from the rules alone), the best of all
weeks of them, and a linear problem over all of them by another solver (OR-Tools' GLOP).
"""

import json
import re
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest
from ortools.linear_solver import pywraplp

from schedule.planner.jsonform import problem_from_json
from schedule.planner.problem import Day, Problem, Start
from schedule.planner.walk import USAGE, main
from tests.planner.brute import best_figures, day_outcomes

ROOT = Path(__file__).resolve().parents[2]
FILE = "docs/examples/tiny-week.json"
ROUNDED = 0.05
"""Nine numbers with two digits each may be off by so much together."""


@pytest.fixture(scope="module")
def problem() -> Problem:
    """The week that is walked through."""
    return problem_from_json(json.loads((ROOT / FILE).read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def walked() -> str:
    """What the command prints."""
    lines: list[str] = []
    assert main([str(ROOT / FILE)], lines.append) == 0
    return "\n".join(lines) + "\n"


def every_day(problem: Problem, day: Day) -> dict[frozenset[tuple[str, int]], int]:
    """The driving of every way to spend a day, by (service's label, start)."""
    pairs = [(one, start) for one in problem.services for start in one.starts if start.day == day.id]
    found: dict[frozenset[tuple[str, int]], int] = {}
    for count in range(len(problem.services) + 1):
        for chosen in combinations(pairs, count):
            if len({one.id for one, _ in chosen}) < count:
                continue
            held: tuple[tuple[str, Start], ...] = tuple((one.id, start) for one, start in chosen)
            for drive, _, _ in day_outcomes(problem, day, held):
                found[frozenset((one.label, start.at) for one, start in chosen)] = drive
    return found


def least_mixture(problem: Problem) -> float:
    """The least driving of any mixture of days that holds every session, by GLOP over every day there is."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    held: dict[str, list[pywraplp.Variable]] = {one.label: [] for one in problem.services}
    cost = solver.Objective()
    for day in problem.days:
        shares = []
        for sessions, drive in every_day(problem, day).items():
            share = solver.NumVar(0, 1, "")
            cost.SetCoefficient(share, drive)
            shares.append(share)
            for label, _ in sessions:
                held[label].append(share)
        solver.Add(sum(shares) == 1)
    for shares in held.values():
        solver.Add(sum(shares) == 1)
    assert solver.Solve() == pywraplp.Solver.OPTIMAL
    return float(cost.Value())


def minutes(clock: str) -> int:
    """The minute of a morning's time."""
    hour, minute = clock.split(":")
    return 60 * int(hour) + int(minute)


def sessions_of(text: str) -> frozenset[tuple[str, int]]:
    """The sessions of a day as the walk tells it: "Ann 8:30, Ben 10:10"."""
    return frozenset((label, minutes(clock)) for label, clock in re.findall(r"(\w+) (\d+:\d+)", text))


def rounds_of(walked: str) -> list[tuple[float, dict[str, float], float]]:
    """The rounds: the master's value, what is paid, and the bound."""
    found = re.findall(r"The master: ([\d.]+) = .*\n +pay \([^)]*\): (.*)\n.*\n +bound: .* = ([\d.]+)", walked)
    return [
        (float(value), {k: float(v) for k, v in re.findall(r"(\w+) (-?[\d.]+)", pay)}, float(bound))
        for value, pay, bound in found
    ]


def reduced(pay: dict[str, float], day: Day, sessions: frozenset[tuple[str, int]], drive: int) -> float:
    """A day's driving less what it is paid."""
    return drive - pay[day.label[:3]] - sum(pay[label] for label, _ in sessions)


def test_the_docs_show_what_the_command_prints() -> None:
    command = [sys.executable, "-m", "schedule.planner.walk", FILE]
    printed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    page = (ROOT / "docs" / "planner.md").read_text(encoding="utf-8")
    assert re.findall(r"```text\n(.*?)```", page, re.DOTALL) == [printed], f"Run {' '.join(command[1:])} again."


def test_the_best_week_is_the_best_of_all(problem: Problem, walked: str) -> None:
    assert best_figures(problem) == (0, 46)
    assert "46 is proved best" in walked
    assert walked.rstrip().endswith("unplaced 0, driving 46 minutes.")


def test_every_day_that_is_told_drives_what_it_says(problem: Problem, walked: str) -> None:
    days = {day.label[:3]: every_day(problem, day) for day in problem.days}
    told = re.findall(r"(\w{3})\[[\d-]*\] (.*): (\d+)$", walked, re.MULTILINE)
    assert len(told) > 20
    assert [(day, what) for day, what, drive in told if days[day][sessions_of(what)] != int(drive)] == []


def test_the_bound_is_that_of_a_mixture_of_all_days(problem: Problem, walked: str) -> None:
    rounds = rounds_of(walked)
    least = least_mixture(problem)
    assert len(rounds) == 6
    assert max(bound for _, _, bound in rounds) == pytest.approx(least, abs=0.005)
    assert rounds[-1][0] == pytest.approx(least, abs=0.005)
    assert all(value >= least - 0.005 for value, _, _ in rounds)


def test_the_bound_of_each_round_follows_from_what_is_paid(problem: Problem, walked: str) -> None:
    """All that is paid, and the least reduced cost of each day. Ng-routes may lie lower, never higher."""
    gaps = []
    for _, pay, bound in rounds_of(walked):
        least = [
            min(reduced(pay, day, sessions, drive) for sessions, drive in every_day(problem, day).items())
            for day in problem.days
        ]
        gaps.append(sum(pay.values()) + sum(min(0.0, one) for one in least) - bound)
    assert min(gaps) > -ROUNDED
    assert gaps[0] == pytest.approx(0, abs=ROUNDED)
    assert gaps[-1] == pytest.approx(0, abs=ROUNDED)


def test_every_day_within_the_gap_is_listed(problem: Problem, walked: str) -> None:
    """One start of the earliest of each service and place is enough without wishes: later ones may be missing."""
    pay = max(rounds_of(walked), key=lambda one: one[2])[1]
    part = walked.partition("5. CLOSING")[2].partition("6. THE WEEK")[0]
    for day in problem.days:
        listed = {
            frozenset(label for label, _ in sessions_of(what)): float(cost)
            for cost, what in re.findall(rf"([\d.-]+)  {day.label[:3]}\[[\d-]*\] (.*): \d+$", part, re.MULTILINE)
        }
        within: dict[frozenset[str], float] = {}
        for sessions, drive in every_day(problem, day).items():
            cost, held = reduced(pay, day, sessions, drive), frozenset(label for label, _ in sessions)
            if cost <= 1 + ROUNDED:
                within[held] = min(cost, within.get(held, cost))
        assert listed == pytest.approx(within, abs=ROUNDED)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], USAGE),
        (["nowhere.json"], "nowhere.json: [Errno 2] No such file or directory: 'nowhere.json'"),
        (["docs/examples/two-buildings.json"], "without wishes"),
    ],
)
def test_what_it_can_not_walk_through_is_said(
    arguments: list[str], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    lines: list[str] = []
    assert main(arguments, lines.append) == 2
    assert said in lines[-1]
