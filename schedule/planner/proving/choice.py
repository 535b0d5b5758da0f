"""The integer problem over a pool of routes: choose one a day, so that owed sessions are covered.

Beside the routes stands, for each service and day, the number of its sessions that day. Only those numbers are
branched on: once they are whole, each day's set of services is settled, and its cheapest route with it. That is
branching on the original variables of a Dantzig-Wolfe decomposition (F. Vanderbeck and L. Wolsey, 1996, Operations
Research Letters 19), and takes some hundred whole variables where the routes would be tens of thousands.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from schedule.planner.problem import Goal
from schedule.planner.proving.master import Question, held_entries, route_figures
from schedule.planner.proving.patterns import patterns_of
from schedule.planner.proving.quiet import new_solver
from schedule.planner.week.model import Model
from schedule.planner.week.routes import Route
from schedule.planner.week.work import COLUMN, LOOK, LOOK_A_COLUMN

TOLERANCE = 1e-6
SLACK = 1e-4
"""Added to reduced costs, so that rounding never fixes a route that a better plan could hold."""

FILTERED = 3_000
"""Routes beyond which those that no better plan can hold are left out first."""


@dataclass(frozen=True, slots=True)
class Limits:
    """When an integer problem has to end: seconds, nodes, a word from outside, or seconds of work."""

    seconds: float
    nodes: int
    halted: Callable[[], bool]
    effort: float = math.inf


@dataclass(frozen=True, slots=True)
class Chosen:
    """The routes chosen, if any, and a bound on all plans of the pool that are worth the cutoff or less.

    ``bound`` is in units of the master's value; above the cutoff it means that no such plan exists.
    ``nodes_ran_out``: it ended because it had branched as often as it may.
    """

    routes: list[Route] | None
    bound: float
    nodes_ran_out: bool = False


@dataclass(slots=True)
class _Rows:
    """Rows by kind; columns are collected before they go to the solver as one matrix."""

    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, low: float, high: float) -> int:
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1


@dataclass(slots=True)
class _Columns:
    cost: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    rows: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def add(self, cost: float, high: float, whole: bool, entries: Iterable[tuple[int, float]]) -> None:
        for row, value in entries:
            self.rows.append(row)
            self.values.append(value)
        self.cost.append(cost)
        self.high.append(high)
        self.whole.append(whole)
        self.starts.append(len(self.rows))


class RouteChoice:
    """One integer problem. Routes that miss a wish are left out where none may be missed."""

    def __init__(
        self,
        model: Model,
        question: Question,
        routes: Iterable[Route],
        off: Callable[[Route], int] = lambda route: route.off,
    ) -> None:
        """``off``: minutes off the usual time that a route adds to sameness."""
        self.model = model
        self.question = question
        self.off = off
        self.routes = [r for r in dict.fromkeys(routes) if not (question.no_miss and r.missed)]
        self.held = [self._sessions(route) for route in self.routes]
        self.step = model.value_step if question.goal is Goal.UNPLACED else 1
        self.rows = _Rows()
        self.columns = _Columns()
        model.work.add(COLUMN * len(self.routes))
        self._build()

    # ---- building ----------------------------------------------------------------------------------------

    def _sessions(self, route: Route) -> Counter[int]:
        nodes = self.model.days[route.day].nodes
        return Counter(service for visit in route.visits for service in nodes[visit].services)

    def _build(self) -> None:
        model, rows = self.model, self.rows
        day_rows = [rows.add(1.0, 1.0) for _ in model.days]
        pairs = sorted({(s, r.day) for r, held in zip(self.routes, self.held, strict=True) for s in held})
        links = {pair: rows.add(0.0, 0.0) for pair in pairs}
        goals = {goal: rows.add(low, high) for goal, (low, high) in self.question.limits(model).items()}
        self._add_sessions(pairs, links, goals)
        preparation = self._add_missed(goals)
        self.first_route = len(self.columns.cost)
        whole = self._whole(bool(goals) or preparation >= 0)
        for route, held, one in zip(self.routes, self.held, whole, strict=True):
            entries = [(day_rows[route.day], 1.0)]
            entries += [(links[s, route.day], float(n)) for s, n in held.items()]
            entries += self._figures(route, preparation, goals)
            cost = self.question.cost(route) + self.question.weight(Goal.SAMENESS) * self.off(route)
            self.columns.add(cost, 1.0, one, entries)

    @staticmethod
    def _figures(route: Route, preparation: int, goals: Mapping[Goal, int]) -> list[tuple[int, float]]:
        """What a route adds to the rows over several days."""
        prepared = [(preparation, float(route.preparation))] if preparation >= 0 and route.preparation else []
        return [*prepared, *held_entries(goals, route_figures(route))]

    def _add_sessions(
        self, pairs: list[tuple[int, int]], links: dict[tuple[int, int], int], goals: dict[Goal, int]
    ) -> None:
        """For each service its sessions of each day, those unplaced, and the set of its days."""
        model, question, rows = self.model, self.question, self.rows
        service_rows = [rows.add(float(owed), float(owed)) for owed in model.owed]
        windows = self._windows(pairs)
        spread = self._add_patterns(pairs)
        for pair in pairs:
            service = pair[0]
            entries = [(links[pair], -1.0), (service_rows[service], 1.0)]
            entries += [(row, 1.0) for row in windows.get(pair, ())]
            entries += [(spread[pair], -1.0)] if pair in spread else []
            most = 1 if model.days_apart[service] else model.owed[service]
            self.columns.add(0.0, float(most), True, entries)
        for service, owed in enumerate(model.owed):
            value = float(model.value[service])
            entries = [(service_rows[service], 1.0), *held_entries(goals, {Goal.UNPLACED: value})]
            most = 0 if question.none_left else owed
            self.columns.add(question.weight(Goal.UNPLACED) * value, float(most), True, entries)

    def _add_patterns(self, pairs: list[tuple[int, int]]) -> dict[tuple[int, int], int]:
        """Where sameness counts: one set of days for each service, charged for standing close together."""
        if not self.question.weight(Goal.SAMENESS):
            return {}
        found: dict[tuple[int, int], int] = {}
        for service, owed in enumerate(self.model.owed):
            days = [day for one, day in pairs if one == service]
            patterns = patterns_of(self.model, service, days, owed if self.question.none_left else 0)
            if patterns is None:
                continue
            one = self.rows.add(1.0, 1.0)
            found |= {(service, day): self.rows.add(0.0, 0.0) for day in days}
            for pattern in patterns:
                entries = [(one, 1.0), *((found[service, day], 1.0) for day in pattern.days)]
                cost = self.question.weight(Goal.SAMENESS) * pattern.bunched
                self.columns.add(cost, 1.0, True, entries)
        return found

    def _add_missed(self, goals: dict[Goal, int]) -> int:
        """Missed preparation of the horizon; its row, -1 where none is wished for."""
        wish, question, infinite = self.model.preparation_wish, self.question, float(highspy.kHighsInf)
        if not wish:
            return -1
        row = self.rows.add(float(wish), infinite)
        entries = [(row, 1.0), *held_entries(goals, {Goal.WISHES: 1.0})]
        self.columns.add(question.weight(Goal.WISHES), 0.0 if question.no_miss else infinite, False, entries)
        return row

    def _windows(self, pairs: Sequence[tuple[int, int]]) -> dict[tuple[int, int], list[int]]:
        found: dict[tuple[int, int], list[int]] = {}
        known = set(pairs)
        for service in range(len(self.model.owed)):
            for window in self.model.windows(service):
                row = self.rows.add(-float(highspy.kHighsInf), 1.0)
                for day in window:
                    if (service, day) in known:
                        found.setdefault((service, day), []).append(row)
        return found

    def _whole(self, coupled: bool) -> list[bool]:
        """Which routes must be chosen or not even where the sessions of each day are settled.

        With rows over several days two routes over the same sessions could share a day; so could a route with two
        sessions of a service and one with none.
        """
        twice = {r.day for r, held in zip(self.routes, self.held, strict=True) if max(held.values(), default=0) > 1}
        alike = Counter((r.day, frozenset(held)) for r, held in zip(self.routes, self.held, strict=True))
        return [
            r.day in twice or (coupled and alike[r.day, frozenset(held)] > 1)
            for r, held in zip(self.routes, self.held, strict=True)
        ]

    # ---- solving -----------------------------------------------------------------------------------------

    def _solver(self, chosen: NDArray[np.bool_] | None, *, whole: bool) -> highspy.Highs:
        """The problem in a solver; ``chosen`` closes the other columns."""
        columns, problem = self.columns, highspy.HighsLp()
        high = np.array(columns.high, np.float64)
        if chosen is not None:
            high[~chosen] = 0.0
        problem.num_col_ = len(columns.cost)
        problem.num_row_ = len(self.rows.low)
        problem.col_cost_ = np.array(columns.cost, np.float64)
        problem.col_lower_ = np.zeros(len(columns.cost))
        problem.col_upper_ = high
        problem.row_lower_ = np.array(self.rows.low, np.float64)
        problem.row_upper_ = np.array(self.rows.high, np.float64)
        problem.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        problem.a_matrix_.start_ = np.array(columns.starts, np.int32)
        problem.a_matrix_.index_ = np.array(columns.rows, np.int32)
        problem.a_matrix_.value_ = np.array(columns.values, np.float64)
        if whole:
            kinds = {True: highspy.HighsVarType.kInteger, False: highspy.HighsVarType.kContinuous}
            problem.integrality_ = [kinds[one] for one in columns.whole]
        solver = new_solver()
        solver.passModel(problem)
        return solver

    def best(self, limits: Limits, cutoff: float) -> Chosen:
        """The best choice and a bound, true of all plans of the pool whose value is at most ``cutoff``.

        No start solution is given: with one, HiGHS 1.16 was seen to report an optimum that was none. Routes are
        left out only where their reduced cost shows that no plan within the cutoff holds them.
        """
        kept: NDArray[np.bool_] | None = None
        bound = -np.inf
        if len(self.routes) > FILTERED:
            solver = self._solver(None, whole=False)
            solver.setOptionValue("time_limit", max(0.01, limits.seconds))
            solver.run()
            self.model.work.add_pivots(solver.getInfo().simplex_iteration_count, len(self.columns.cost))
            status = solver.getModelStatus()
            if status == highspy.HighsModelStatus.kInfeasible:
                return Chosen(None, np.inf)
            if status == highspy.HighsModelStatus.kOptimal:
                bound = float(solver.getInfo().objective_function_value)
                if bound > cutoff + SLACK:
                    return Chosen(None, bound)
                costs = np.array(solver.getSolution().col_dual, np.float64)
                kept = costs <= cutoff - bound + SLACK
                kept[: self.first_route] = True
        return self._search(self._solver(kept, whole=True), limits, bound, cutoff if kept is not None else np.inf)

    def _search(self, solver: highspy.Highs, limits: Limits, bound: float, cutoff: float) -> Chosen:
        solver.setOptionValue("time_limit", max(0.01, limits.seconds))
        most = self.model.work.seconds + limits.effort
        look = LOOK + LOOK_A_COLUMN * len(self.columns.cost)

        def end_if_due(event: highspy.HighsCallbackEvent) -> None:
            self.model.work.add(look)
            if self.model.work.seconds > most or limits.halted():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(end_if_due)
        solver.setOptionValue("mip_max_nodes", limits.nodes)
        solver.setOptionValue("presolve", "off")
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.setOptionValue("mip_abs_gap", self.step - 0.001)
        solver.run()
        status, info = solver.getModelStatus(), solver.getInfo()
        self.model.work.add_pivots(info.simplex_iteration_count, len(self.columns.cost))
        ran_out = status == highspy.HighsModelStatus.kSolutionLimit
        if status == highspy.HighsModelStatus.kInfeasible:
            # Left-out routes may still make plans beyond the cutoff, so nothing is said of those.
            return Chosen(None, cutoff + self.step)
        found = max(bound, min(float(info.mip_dual_bound), cutoff + self.step))
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Chosen(None, found if np.isfinite(found) else bound, ran_out)
        routes = self._routes(solver.getSolution().col_value)
        if routes is None:
            return Chosen(None, bound, ran_out)
        if status == highspy.HighsModelStatus.kOptimal:
            found = max(found, min(float(info.objective_function_value), cutoff + self.step))
        return Chosen(routes, found, ran_out)

    def _routes(self, values: Sequence[float]) -> list[Route] | None:
        """The route of each day with the largest share; ``None`` where a day has none."""
        best: dict[int, tuple[float, Route]] = {}
        for route, value in zip(self.routes, values[self.first_route :], strict=True):
            if value > TOLERANCE and value > best.get(route.day, (0.0, route))[0]:
                best[route.day] = (value, route)
        if len(best) < len(self.model.days):
            return None
        return [best[day.index][1] for day in self.model.days]
