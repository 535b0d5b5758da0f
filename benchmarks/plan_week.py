"""Generated weeks of several sizes: the planner beside cheapest insertion and one flat CP-SAT model.

Run: ``python -m benchmarks.plan_week`` (``--quick`` for a short run). Prints one line a week: seconds to the
first plan, then unplaced minutes, drive minutes, bound and gap of the planner, beside the other two.
"""

import argparse
import sys
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ortools.sat.python import cp_model

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.construct import cheapest_insertion
from schedule.planner.model import DayModel, Model, build_model
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import Result
from schedule.planner.solve import solve
from schedule.planner.state import State
from schedule.planner.warm import warm_up

type Arc = tuple[int, int, cp_model.LiteralT]


@dataclass(frozen=True, slots=True)
class FlatAnswer:
    """What the flat model found: unplaced minutes, drive minutes and their bound."""

    unplaced: int | None
    drive: int | None
    bound: float


class FlatModel:
    """One CP-SAT model of the whole week: a circuit a day over all nodes, lunch as a copy of each arc.

    It starts from the week that cheapest insertion gives, every variable hinted.
    """

    def __init__(self, model: Model, start: State) -> None:
        self.model = model
        self.start = start
        self.cp = cp_model.CpModel()
        self.held: list[list[cp_model.IntVar]] = [[] for _ in model.owed]
        self.drive: list[cp_model.LinearExpr | int] = []
        for day in model.days:
            self._add_day(day)
        self.missing = [
            self.cp.new_int_var(0, owed, f"missing{service}") for service, owed in enumerate(model.owed)
        ]
        for service, owed in enumerate(model.owed):
            self.cp.add(sum(self.held[service]) + self.missing[service] == owed)
            self.cp.add_hint(self.missing[service], start.missing(service))

    def _add_day(self, day: DayModel) -> None:
        arcs, lunch = self._arcs(day)
        visits: dict[int, list[cp_model.IntVar]] = {}
        for number in range(1, len(day.nodes) - 1):
            visit = self.cp.new_bool_var(f"d{day.index}visit{number}")
            self.cp.add_hint(visit, number in self.start.routes[day.index].visits)
            arcs.append((number, number, visit.negated()))
            for service in day.nodes[number].services:
                visits.setdefault(service, []).append(visit)
                self.held[service].append(visit)
        for service, choices in visits.items():
            if self.model.days_apart[service]:
                self.cp.add(sum(choices) <= 1)
        self.cp.add_circuit(arcs)
        if day.day.lunch is not None:
            self.cp.add(sum(lunch) == 1)

    def _arcs(self, day: DayModel) -> tuple[list[Arc], list[cp_model.IntVar]]:
        """The arcs of a day's circuit, those with lunch also apart."""
        last = len(day.nodes) - 1
        route = self.start.routes[day.index]
        steps = list(pairwise((0, *route.visits, last)))
        used = {(i, j, gap == route.lunch_gap) for gap, (i, j) in enumerate(steps)}
        arcs: list[Arc] = [(last, 0, self.cp.new_constant(1))]
        lunch: list[cp_model.IntVar] = []
        pairs = [(i, j) for i in range(last) for j in range(i + 1, last + 1)]
        for i, j in pairs:
            gap = day.gap(i, j) if day.nodes[i].end <= day.nodes[j].start else None
            for with_lunch in () if gap is None else (False, True) if gap.lunch_fits else (False,):
                taken = self.cp.new_bool_var(f"d{day.index}a{i}-{j}-{with_lunch}")
                self.cp.add_hint(taken, (i, j, with_lunch) in used)
                arcs.append((i, j, taken))
                self.drive.append(taken * (0 if gap is None else gap.drive))
                if with_lunch:
                    lunch.append(taken)
        return arcs, lunch

    def answer(self, seconds: float, workers: int) -> FlatAnswer:
        """Minimise unplaced minutes in the first half of the time, then driving with those held."""
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = seconds / 2
        solver.parameters.num_workers = workers
        unplaced = sum(value * one for value, one in zip(self.model.value, self.missing, strict=True))
        self.cp.minimize(unplaced)
        if solver.solve(self.cp) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            return FlatAnswer(None, None, 0.0)
        least = round(solver.objective_value)
        self.cp.add(unplaced <= least)
        self.cp.minimize(sum(self.drive))
        if solver.solve(self.cp) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            return FlatAnswer(least, None, solver.best_objective_bound)
        return FlatAnswer(least, round(solver.objective_value), solver.best_objective_bound)


def main() -> None:
    """Run the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one seed of two sizes, 10 seconds each")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=60.0, help="for each method and week")
    parser.add_argument("--sizes", type=int, nargs="+", default=[25, 35, 45])
    parser.add_argument("--workers", type=int, default=2, help="of the planner; CP-SAT gets 8")
    asked = parser.parse_args()
    sizes, seeds, seconds = asked.sizes, asked.seeds, asked.seconds
    if asked.quick:
        sizes, seeds, seconds = [25, 40], 1, 10.0
    print(f"compiling (once, then cached): {warm_up():.1f} s")
    print(
        f"{'sessions':>8} {'seed':>4} | {'insertion':>15} | {'flat CP-SAT':>22} | "
        f"{'first s':>7} {'total s':>7} {'unplaced':>8} {'drive':>5} {'bound':>5} {'gap %':>6}"
    )
    for size in sizes:
        buildings = 7 if size == 40 else 8
        for seed in range(seeds):
            _line(generate_week(WeekShape(size, buildings), seed), size, seed, seconds, asked.workers)


def _line(problem: Problem, size: int, seed: int, seconds: float, workers: int) -> None:
    start = cheapest_insertion(build_model(problem))
    insertion = start.figures
    flat = FlatModel(start.model, start).answer(seconds, 8)
    began = time.monotonic()
    result: Result = solve(problem, seed=seed, time_limit=seconds, workers=workers)
    took = time.monotonic() - began
    driving = next(stage for stage in result.stages if stage.goal is Goal.DRIVING)
    first = result.first_plan_seconds or 0.0
    unplaced = 0 if result.figures is None else result.figures.unplaced
    inserted = f"{insertion.unplaced:>5} m {insertion.driving:>5} m"
    flatly = f"{_shown(flat.unplaced):>5} m {_shown(flat.drive):>5} >={flat.bound:>5.0f}"
    print(
        f"{size:>8} {seed:>4} | {inserted:>15} | {flatly:>22} | {first:>7.2f} {took:>7.1f} {unplaced:>8} "
        f"{driving.value:>5} {driving.bound:>5} {100 * driving.gap:>6.1f}",
        flush=True,
    )


def _shown(value: int | None) -> str:
    return "-" if value is None else str(value)


if __name__ == "__main__":
    main()
