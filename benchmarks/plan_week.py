"""Generated weeks of several sizes: the planner beside cheapest insertion, CP-SAT and a time-space network.

Run: ``python -m benchmarks.plan_week`` (``--quick`` for a short run, ``--only-ours`` without the yardsticks).
Prints one line a week: unplaced and drive minutes of each, then seconds to the first plan, to the proof of driving
and in all, processor seconds, labels made, bound and gap of the planner. Then fortnights of 60 sessions in 10
buildings, weeks planned again after a gym is closed, single days beside PyVRP, and the memory at most
(``--fortnights 0``, ``--replans 0``, ``--days 0``: none of these).
"""

import argparse
import resource
import sys
import time
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ortools.sat.python import cp_model

from benchmarks.time_space import TimeSpace
from benchmarks.weeks import WeekShape, cheapest_insertion, generate_week
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import GoalFigures, Result
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import DayModel, Model
from schedule.planner.week.state import WeekState
from tests.planner.proving.test_single_days import cost_by_pyvrp, random_day

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

    def __init__(self, model: Model, start: WeekState, cp: cp_model.CpModel | None = None) -> None:
        self.model = model
        self.start = start
        self.cp = cp_model.CpModel() if cp is None else cp
        self.visits: dict[tuple[int, int], cp_model.IntVar] = {}
        """By day and node, whether it is visited."""
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
            self.visits[day.index, number] = visit
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
        """Minimize unplaced minutes in the first half of the time, then driving with those held."""
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
    """Run the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one seed of two sizes, 10 seconds each")
    parser.add_argument("--only-ours", action="store_true", help="leave CP-SAT and HiGHS out")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=60.0, help="for each method and week")
    parser.add_argument("--sizes", type=int, nargs="+", default=[25, 35, 45, 55])
    parser.add_argument("--workers", type=int, default=2, help="of the planner; CP-SAT gets 8")
    parser.add_argument("--fortnights", type=int, default=3, help="60 sessions in 10 buildings over 10 days")
    parser.add_argument("--replans", type=int, default=3, help="weeks of 45 sessions after one change")
    parser.add_argument("--days", type=int, default=10, help="single days beside PyVRP")
    asked = parser.parse_args()
    sizes, seeds, seconds = asked.sizes, asked.seeds, asked.seconds
    if asked.quick:
        sizes, seeds, seconds, asked.fortnights, asked.replans = [25, 40], 1, 10.0, 0, 1
    print(f"compiling (once, then cached): {warm_up():.1f} s")
    print(
        f"{'sessions':>8} {'seed':>4} | {'insertion':>15} | {'flat CP-SAT':>22} | {'time-space MIP':>22} | "
        f"{'first s':>7} {'drive s':>7} {'all s':>6} {'cpu s':>6} {'labels':>8} "
        f"{'unplaced':>8} {'drive':>5} {'bound':>5} {'gap %':>6}"
    )
    for size in sizes:
        buildings = 7 if size == 40 else 8
        for seed in range(seeds):
            problem = generate_week(WeekShape(size, buildings), seed)
            print(f"{size:>8} {seed:>4} | {_yardsticks(problem, seconds, asked.only_ours)} | ", end="", flush=True)
            print(_ours(problem, seed, seconds, asked.workers), flush=True)
    for seed in range(asked.fortnights):
        problem = generate_week(WeekShape(60, 10, 10), seed)
        print(f"fortnight of 60 {seed:>4} | {_ours(problem, seed, 2 * seconds, asked.workers)}", flush=True)
    for seed in range(asked.replans):
        _replan_line(seed, seconds, asked.workers)
    for seed in range(asked.days):
        _day_line(seed)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory at most, everything above in one process: {most:.0f} MiB")


def _yardsticks(problem: Problem, seconds: float, only_ours: bool) -> str:
    start = cheapest_insertion(build_model(problem))
    inserted = f"{start.figures.unplaced:>5} m {start.figures.driving:>5} m"
    if only_ours:
        return f"{inserted:>15} | {'-':>22} | {'-':>22}"
    flat = FlatModel(start.model, start).answer(seconds, 8)
    network = TimeSpace(start.model).answer(seconds)
    both = (f"{_shown(one.unplaced):>5} m {_shown(one.drive):>5} >={one.bound:>5.0f}" for one in (flat, network))
    return " | ".join([f"{inserted:>15}", *(f"{one:>22}" for one in both)])


def _ours(problem: Problem, seed: int, seconds: float, workers: int) -> str:
    reached: dict[str, float] = {}

    def note(at: float, stage: str, _message: str, _figures: GoalFigures | None) -> None:
        reached[stage] = at

    began, work = time.monotonic(), time.process_time()
    result: Result = solve(problem, seed=seed, time_limit=seconds, workers=workers, progress=note)
    took, work = time.monotonic() - began, time.process_time() - work
    driving = next(stage for stage in result.stages if stage.goal is Goal.DRIVING)
    unplaced = result.stages[0]
    first = result.first_plan_seconds or 0.0
    proved = max(reached.get(stage, 0.0) for stage in ("search", "unplaced", "wishes", "driving"))
    less = "" if unplaced.value <= unplaced.bound else f">={unplaced.bound}"
    return (
        f"{first:>7.2f} {proved:>7.1f} {took:>6.1f} {work:>6.1f} {result.labels:>8} "
        f"{f'{unplaced.value}{less}':>8} {driving.value:>5} "
        f"{driving.bound:>5} {100 * driving.gap:>6.1f}"
    )


def _replan_line(seed: int, seconds: float, workers: int) -> None:
    """A week of 45 sessions, then the gym of one building is closed for a day: what moves, and how soon proved."""
    problem = generate_week(WeekShape(45), seed)
    before = solve(problem, seed=seed, time_limit=seconds, workers=workers)
    if before.plan is None:
        raise RuntimeError("A generated week has no plan.")
    place, day = problem.places[0].id, problem.days[2].id
    open_ones = [
        replace(one, starts=tuple(start for start in one.starts if (start.day, start.place) != (day, place)))
        for one in problem.services
    ]
    changed = replace(problem, services=tuple(open_ones), current=before.plan.sessions)
    reached: dict[str, float] = {}

    def note(at: float, stage: str, _message: str, _figures: GoalFigures | None) -> None:
        reached[stage] = at

    result = solve(changed, seed=seed, time_limit=seconds, workers=workers, progress=note)
    stages = {stage.goal: stage for stage in result.stages}
    moved, driving = stages[Goal.CHANGE], stages[Goal.DRIVING]
    last = max(reached.get(stage, 0.0) for stage in ("search", "unplaced", "wishes", "driving", "change"))
    print(
        f"replan {seed:>4} | driving {driving.value} ({driving.status.value}), moved {moved.value} "
        f"({moved.status.value}) after {last:.1f} s, all {result.seconds:.1f} s",
        flush=True,
    )


def _day_line(seed: int) -> None:
    problem = random_day(seed)
    left_out, drive = cost_by_pyvrp(problem, seed)
    figures = solve(problem, workers=1).figures
    ours = "no plan" if figures is None else f"{figures.unplaced // 30} left out, {figures.driving} m"
    print(f"day {seed:>3} | PyVRP {left_out} left out, {drive} m | planner {ours}", flush=True)


def _shown(value: int | None) -> str:
    return "-" if value is None else str(value)


if __name__ == "__main__":
    main()
