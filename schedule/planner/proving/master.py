"""The master problem: choose one route a day so that owed sessions are covered (set partitioning).

In minutes and sessions, with ``x`` for the share of a route that is chosen, ``u`` for sessions of a service
unplaced:

- least sum of cost of route * x + value of service * u (whichever of both the goal counts);
- each day: sum of x = 1;
- each service: sum of its sessions in the routes * x + u = sessions owed;
- each window of a service (``Model.windows``): sum of its sessions on those days * x <= 1;
- preparation of the horizon: sum of minutes prepared * x + minutes missed >= minutes wished for;
- one row for each goal already settled, which it must not go beyond.

This is the Dantzig-Wolfe decomposition of the week (G. B. Dantzig and P. Wolfe, 1960, Operations Research 8): what
makes a day possible stays inside the routes, and only what ties days together is a row here. Shares of routes are a
mixture of possible days, which is much closer to a week than a mixture of possible drives would be: that is where
the tight bounds come from.

*Windows.* Two sessions lie ``days_apart`` days apart exactly if every run of so many days holds one at most. Such a
row has its ones on neighboring days, an interval matrix, which is totally unimodular (D. R. Fulkerson and O. A.
Gross, 1965, Pacific Journal of Mathematics 15; from memory): the corners of these rows are sets of days as they are
allowed, and listing those sets as columns would make the bound no better.

Solved with HiGHS as a linear problem, again and again with more columns: the solver starts from the last solution.
``choice`` holds the integer one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import highspy
import numpy as np

from schedule.planner.problem import Goal
from schedule.planner.proving.columns import Weights
from schedule.planner.proving.quiet import new_solver
from schedule.planner.week.model import Model
from schedule.planner.week.routes import Route
from schedule.planner.week.work import COLUMN


@dataclass(frozen=True, slots=True)
class Question:
    """What a master problem minimizes and which goals it holds at the values found before."""

    goal: Goal
    held: Mapping[Goal, int]
    beside: Mapping[Goal, float] = field(default_factory=dict)
    """What a minute of another goal is charged beside this one. Only to find columns: no bound."""

    def weight(self, goal: Goal) -> float:
        """1 for the goal that is being minimized, else 0 or what is charged beside it."""
        return 1.0 if goal is self.goal else self.beside.get(goal, 0.0)

    @property
    def no_miss(self) -> bool:
        """Whether the wishes are held at nothing missed, so that no route may miss any."""
        return self.held.get(Goal.WISHES) == 0

    @property
    def none_left(self) -> bool:
        """Whether what is unplaced is held at nothing, so that no session may be left out."""
        return self.held.get(Goal.UNPLACED) == 0

    def limits(self, model: Model) -> dict[Goal, tuple[float, float]]:
        """The row that each held goal needs, as its least and its most; the linear and the integer problem alike.

        Sessions moved are counted from the other side, as sessions kept. Nothing unplaced and nothing missed need
        no row: there the columns that would leave out or miss are closed instead.
        """
        infinite, found = float(highspy.kHighsInf), dict[Goal, tuple[float, float]]()
        for goal, value in self.held.items():
            if goal is Goal.CHANGE:
                found[goal] = float(model.current_sessions - value), infinite
            elif goal is Goal.DRIVING or (goal in {Goal.UNPLACED, Goal.WISHES} and value > 0):
                found[goal] = -infinite, float(value)
        return found

    def cost(self, route: Route) -> float:
        """What a route adds to the master's value: sessions kept count as a gain."""
        return (
            self.weight(Goal.WISHES) * route.missed
            + self.weight(Goal.DRIVING) * route.drive
            - self.weight(Goal.CHANGE) * route.kept
        )


def held_entries(rows: Mapping[Goal, int], figures: Mapping[Goal, float]) -> list[tuple[int, float]]:
    """What a column with these figures adds to the rows of the held goals; figures of other goals add nothing."""
    return [(rows[goal], float(figure)) for goal, figure in figures.items() if goal in rows and figure]


def route_figures(route: Route) -> dict[Goal, float]:
    """What a route adds to the rows of held goals; sessions kept, not moved (see ``Question.limits``)."""
    return {Goal.WISHES: route.missed, Goal.DRIVING: route.drive, Goal.CHANGE: route.kept}


@dataclass(slots=True)
class Rows:
    """Row numbers of the master problem. ``windows``: those that a service's session on a day counts in."""

    day: list[int] = field(default_factory=list)
    service: list[int] = field(default_factory=list)
    windows: dict[tuple[int, int], list[int]] = field(default_factory=dict)
    preparation: int = -1
    goals: dict[Goal, int] = field(default_factory=dict)


class Master:
    """A master problem over a growing pool of routes. Reduced costs are taken from its duals.

    It always has a solution as long as each day has a route and nothing is held: sessions may stay unplaced. The
    columns for what is unplaced and missed come first, then one for each route.
    """

    def __init__(self, model: Model, question: Question) -> None:
        self.model = model
        self.question = question
        self.columns: list[Route] = []
        self.highs = new_solver()
        self.rows = Rows()
        self._count = 0
        self._add_rows()
        self.first_column = self._add_slack_columns()

    # ---- building ----------------------------------------------------------------------------------------

    def _row(self, low: float, high: float) -> int:
        self.highs.addRow(low, high, 0, np.array([], np.int32), np.array([], np.float64))
        self._count += 1
        return self._count - 1

    def _column(self, cost: float, high: float, entries: list[tuple[int, float]]) -> None:
        # A route with two sessions of a service counts twice in its row; the solver takes each row once a column.
        merged: dict[int, float] = {}
        for row, value in entries:
            merged[row] = merged.get(row, 0.0) + value
        rows = np.array(list(merged), np.int32)
        values = np.array(list(merged.values()), np.float64)
        self.model.work.add(COLUMN)
        self.highs.addCol(cost, 0.0, high, len(merged), rows, values)

    def _add_rows(self) -> None:
        model, rows = self.model, self.rows
        rows.day = [self._row(1.0, 1.0) for _ in model.days]
        rows.service = [self._row(float(owed), float(owed)) for owed in model.owed]
        self._add_windows()
        if model.preparation_wish:
            rows.preparation = self._row(float(model.preparation_wish), highspy.kHighsInf)
        for goal, (low, high) in self.question.limits(model).items():
            rows.goals[goal] = self._row(low, high)

    def _add_windows(self) -> None:
        for service in range(len(self.model.owed)):
            for window in self.model.windows(service):
                row = self._row(-highspy.kHighsInf, 1.0)
                for day in window:
                    self.rows.windows.setdefault((service, day), []).append(row)

    def _add_slack_columns(self) -> int:
        """Unplaced sessions of each service, then missed preparation of the horizon."""
        question, rows = self.question, self.rows
        for service, owed in enumerate(self.model.owed):
            value = float(self.model.value[service])
            entries = [(rows.service[service], 1.0), *held_entries(rows.goals, {Goal.UNPLACED: value})]
            charge = question.weight(Goal.UNPLACED) * value
            self._column(charge, 0.0 if question.none_left else owed, entries)
        if rows.preparation >= 0:
            entries = [(rows.preparation, 1.0), *held_entries(rows.goals, {Goal.WISHES: 1.0})]
            high = 0.0 if question.no_miss else highspy.kHighsInf
            self._column(question.weight(Goal.WISHES), high, entries)
        return len(self.model.owed) + (rows.preparation >= 0)

    def add(self, routes: Iterable[Route]) -> None:
        """Add routes as columns; those that miss a wish are left out where none may be missed."""
        for route in routes:
            if self.question.no_miss and route.missed:
                continue
            self.columns.append(route)
            self._column(self.question.cost(route), highspy.kHighsInf, self._entries(route))

    def _entries(self, route: Route) -> list[tuple[int, float]]:
        rows = self.rows
        entries = [(rows.day[route.day], 1.0)]
        nodes = self.model.days[route.day].nodes
        for service in (s for visit in route.visits for s in nodes[visit].services):
            entries.append((rows.service[service], 1.0))
            entries.extend((row, 1.0) for row in rows.windows.get((service, route.day), ()))
        if rows.preparation >= 0 and route.preparation:
            entries.append((rows.preparation, float(route.preparation)))
        entries.extend(held_entries(rows.goals, route_figures(route)))
        return entries

    # ---- the linear problem ------------------------------------------------------------------------------

    def solve(self) -> tuple[float, list[Weights]] | None:
        """The linear optimum and, for each day, what a new route would be charged; ``None`` if infeasible."""
        self.highs.run()
        self.model.work.add_pivots(self.highs.getInfo().simplex_iteration_count, len(self.columns))
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        duals = np.array(self.highs.getSolution().row_dual, np.float64)
        value = self.highs.getInfo().objective_function_value
        return float(value), [self._weights(duals, day) for day in range(len(self.model.days))]

    def shares(self) -> list[tuple[Route, float]]:
        """Each route with its share in the linear solution."""
        values = self.highs.getSolution().col_value[self.first_column :]
        return list(zip(self.columns, values, strict=True))

    def _weights(self, duals: np.ndarray, day: int) -> Weights:
        """The reduced cost of a route of the day, figure by figure: its cost less the duals of the rows it is in.

        A dual is what the master's value would rise by if a row asked for one more: a prize for a session (of the
        service's row and of each window that the day is in, where it is a fine), a charge for the minutes of a goal
        that is held at most (its dual is negative or nothing). Signs are cut off at 0, since a solver's tolerance
        could leave a wrong one, under which nothing would be a bound.
        """
        rows, question = self.rows, self.question
        prizes = duals[rows.service].copy() if rows.service else np.zeros(0)
        for (service, on), windows in rows.windows.items():
            if on == day:
                prizes[service] += sum(duals[row] for row in windows)
        settled = {goal: float(duals[row]) for goal, row in rows.goals.items()}
        return Weights(
            drive=question.weight(Goal.DRIVING) + max(0.0, -settled.get(Goal.DRIVING, 0.0)),
            missed=question.weight(Goal.WISHES) + max(0.0, -settled.get(Goal.WISHES, 0.0)),
            prepared=max(0.0, float(duals[rows.preparation])) if rows.preparation >= 0 else 0.0,
            kept=question.weight(Goal.CHANGE) + max(0.0, settled.get(Goal.CHANGE, 0.0)),
            prizes=prizes,
            convexity=float(duals[rows.day[day]]),
        )
