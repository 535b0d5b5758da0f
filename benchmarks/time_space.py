"""A yardstick: the whole week as one mixed integer problem over a time-space network, solved by HiGHS.

One binary variable for each step from a visit to the next (with or without lunch in between), flow kept at every
visit, each service held as often as owed less what is unplaced.
"""

from dataclasses import dataclass
from itertools import combinations

import highspy
import numpy as np

from schedule.planner.proving.quiet import new_solver
from schedule.planner.week.model import DayModel, Model


@dataclass(frozen=True, slots=True)
class Answer:
    """Unplaced and drive minutes of the best week found (``None``: none found) and the bound on driving."""

    unplaced: int | None
    drive: int | None
    bound: float


class TimeSpace:
    """The problem, written row by row, then column by column."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.solver = new_solver()
        self.drives: list[int] = []
        self.rows = 0
        self.service = [self._row(float(owed), float(owed)) for owed in model.owed]
        for service, owed in enumerate(model.owed):
            self._column(float(owed), [(self.service[service], 1.0)], 0)
        self.slack = len(model.owed)
        for day in model.days:
            self._add_day(day)

    def _row(self, low: float, high: float) -> int:
        self.solver.addRow(low, high, 0, np.array([], np.int32), np.array([], np.float64))
        self.rows += 1
        return self.rows - 1

    def _column(self, high: float, entries: list[tuple[int, float]], drive: int) -> None:
        rows = np.array([row for row, _ in entries], np.int32)
        values = np.array([value for _, value in entries], np.float64)
        self.solver.addCol(0.0, 0.0, high, len(entries), rows, values)
        self.drives.append(drive)

    def _add_day(self, day: DayModel) -> None:
        last = len(day.nodes) - 1
        leave = [self._row(1.0, 1.0) if n == 0 else self._row(0.0, 0.0) for n in range(last)]
        lunch = self._row(1.0, 1.0) if day.day.lunch is not None else -1
        once = {
            service: self._row(0.0, 1.0)
            for service in sorted({s for node in day.nodes for s in node.services})
            if self.model.days_apart[service]
        }
        for i, j in combinations(range(last + 1), 2):
            gap = day.gap(i, j) if day.nodes[i].end <= day.nodes[j].start else None
            if gap is None:
                continue
            entries = [(leave[i], 1.0)]
            if j != last:
                entries.append((leave[j], -1.0))
                entries += [(self.service[s], 1.0) for s in day.nodes[j].services]
                entries += [(once[s], 1.0) for s in day.nodes[j].services if s in once]
            self._column(1.0, entries, gap.drive)
            if gap.lunch_fits and lunch >= 0:
                self._column(1.0, [*entries, (lunch, 1.0)], gap.drive)

    def answer(self, seconds: float) -> Answer:
        """Unplaced minutes in the first half of the time, then driving with those held."""
        total = len(self.drives)
        every = np.arange(total, dtype=np.int32)
        solver = self.solver
        solver.changeColsIntegrality(total, every, np.array([highspy.HighsVarType.kInteger] * total))
        solver.setOptionValue("time_limit", seconds / 2)
        values = np.array(self.model.value, np.float64)
        solver.changeColsCost(self.slack, every[: self.slack], values)
        solver.run()
        info = solver.getInfo()
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Answer(None, None, 0.0)
        least = round(info.objective_function_value)
        solver.addRow(0.0, float(least), self.slack, every[: self.slack], values)
        solver.changeColsCost(total, every, np.array(self.drives, np.float64))
        # HiGHS counts its time limit from the solver's first run.
        solver.setOptionValue("time_limit", solver.getRunTime() + seconds / 2)
        solver.run()
        info = solver.getInfo()
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Answer(least, None, info.mip_dual_bound)
        return Answer(least, round(info.objective_function_value), info.mip_dual_bound)
