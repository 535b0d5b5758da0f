"""The linear problem over whole positions: one set of standing sessions for each day of the week.

Columns are made by ``walk`` under prices for what each service owes (Dantzig and Wolfe 1960); what rotates is
given. A column costs what is driven on all dates of its position with its sessions standing there. The value with
all columns is a bound on every timetable with that rotation.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import highspy
import numpy as np

from schedule.planner.proving.labels import Floats
from schedule.planner.proving.quiet import new_solver
from schedule.planner.term.rotation.dates import Dates, Row
from schedule.planner.term.rotation.walk import (
    FOUND,
    LEFT_OUT,
    MADE,
    PARENT,
    SPOT,
    DateLabels,
    PositionWay,
    Prices,
    completions,
    driven,
    room_for,
    walk,
)
from schedule.planner.week.work import LOOK_A_COLUMN, PIVOT, Work

LEFT_OVER = 240
"""Minutes of driving that a session without a standing time weighs in each week."""

ROOM = 300_000
"""Labels that one walk has room for."""

LABEL = 3_000
"""Units of work (``week.work``) of a label with all its dates."""

QUICK, MANY = 30, 40
"""Labels of a spot that a quick walk follows on; columns that one walk gives at most."""

ROUNDS = 60
SMALL = 1e-6

MOST_ROWS = 60
"""Rows, and kinds of date, of a position: bits of a whole number."""

NODES = 500
"""Nodes of the integer problem: thousands have not been seen to help."""

type Spots = tuple[int, ...]
"""Candidates of a position by their spots, in order of time."""


@dataclass(frozen=True, slots=True)
class StandingDay:
    """Candidates of a position that stand, and what is driven there over the term."""

    position: int
    spots: Spots
    drive: int


@dataclass(frozen=True, slots=True)
class Priced:
    """Columns of one position with what each would save, the best first; whether no better one is left out."""

    columns: list[tuple[StandingDay, float]]
    whole: bool
    labels: int


@dataclass(frozen=True, slots=True)
class Linear:
    """``value`` of the columns at hand, ``bound`` of all there are (minus infinity where that isn't known).

    ``left_over``: sessions that have no standing time in it.
    """

    value: float
    bound: float
    left_over: float


class StandingMaster:
    """The linear problem of one pattern, its columns and what they cost."""

    def __init__(self, dates: Sequence[Dates], rows: Sequence[Row], work: Work, workers: int) -> None:
        self.dates, self.rows, self.work, self.workers = dates, rows, work, workers
        self.in_rows = [_rows_of_spots(mine, rows) for mine in dates]
        self.ways = [_way(mine, spots) for mine, spots in zip(dates, self.in_rows, strict=True)]
        self.columns: list[StandingDay] = []
        self.known: set[tuple[int, Spots]] = set()
        self.highs = new_solver()
        self._build()

    def _build(self) -> None:
        none = np.array([], np.int32), np.array([], np.float64)
        for _ in self.dates:
            self.highs.addRow(1.0, 1.0, 0, *none)
        for row in self.rows:
            self.highs.addRow(float(row.owed), float(row.owed), 0, *none)
        for n, row in enumerate(self.rows):
            at = np.array([len(self.dates) + n], np.int32)
            self.highs.addCol(float(LEFT_OVER * row.weeks), 0.0, float(row.owed), 1, at, np.array([1.0]))

    def add(self, shapes: Iterable[tuple[int, Spots]]) -> int:
        """More columns, each if it is new and can be held on all dates; how many are new."""
        added = 0
        for position, spots in shapes:
            drive = driven(self.ways[position], np.array(spots, np.int64))
            if drive >= 0 and (position, spots) not in self.known:
                self._add(StandingDay(position, spots, int(drive)))
                added += 1
        return added

    def _add(self, column: StandingDay) -> None:
        self.known.add((column.position, column.spots))
        self.columns.append(column)
        mine = self.in_rows[column.position]
        at = [column.position, *(len(self.dates) + row for spot in column.spots for row in mine[spot])]
        rows = np.array(at, np.int32)
        self.highs.addCol(float(column.drive), 0.0, highspy.kHighsInf, len(at), rows, np.ones(len(at)))
        self.work.add(LOOK_A_COLUMN)

    def solve(self, remaining: Callable[[], float], *, quick: bool = False) -> Linear:
        """More columns until none is missing. ``quick``: only those that quick walks find, so without a bound.

        Infinite where some date can't hold what rotation brings to it.
        """
        best, hurried = -math.inf, True
        value, duals = self._solved()
        for _ in range(ROUNDS if value < math.inf else 0):
            priced = self._priced(duals, hurried)
            best = max(best, value + _saving(priced))
            added = self.add((one.position, one.spots) for found in priced for one, _ in found.columns)
            value, duals = self._solved()
            ended = not added and (quick or not hurried)
            if ended or remaining() <= 0:
                break
            hurried = hurried and added > 0
        return Linear(value, best, float(sum(self.highs.getSolution().col_value[: len(self.rows)])))

    def _solved(self) -> tuple[float, Floats]:
        self.highs.run()
        info = self.highs.getInfo()
        self.work.add(PIVOT * max(1, info.simplex_iteration_count))
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return math.inf, np.zeros(len(self.dates) + len(self.rows))
        return float(info.objective_function_value), np.array(self.highs.getSolution().row_dual)

    def value(self) -> float:
        """The linear optimum of the columns at hand."""
        return self._solved()[0]

    def useful(self, within: float) -> list[tuple[int, Spots]]:
        """Columns that cost at most so much more than their position and sessions pay."""
        reduced = self.highs.getSolution().col_dual[len(self.rows) :]
        return [(c.position, c.spots) for c, cost in zip(self.columns, reduced, strict=True) if cost <= within]

    # ---- pricing -----------------------------------------------------------------------------------------

    def _priced(self, duals: Floats, hurried: bool) -> list[Priced]:
        with ThreadPoolExecutor(self.workers) as pool:
            found = list(pool.map(lambda n: self._walk(n, duals, hurried), range(len(self.dates))))
        self.work.add(LABEL * sum(one.labels for one in found))
        return found

    def _walk(self, position: int, duals: Floats, hurried: bool) -> Priced:
        way, pays = self.ways[position], float(duals[position])
        prices = duals[len(self.dates) :]
        prize = np.array([sum((prices[row] for row in rows), 0.0) for rows in self.in_rows[position]])
        ends, values = np.zeros(ROOM, np.int64), np.zeros(ROOM)
        room = room_for(ROOM, way)
        asked = Prices(prize, completions(way, prize), pays - SMALL, QUICK if hurried else 0)
        walk(way, asked, room, ends, values)
        order = np.argsort(values[: room.told[FOUND]], kind="stable")[:MANY]
        columns = [
            (StandingDay(position, _spots(room, int(ends[n])), 0), float(values[n]) - pays) for n in order.tolist()
        ]
        return Priced(columns, not room.told[LEFT_OUT], int(room.told[MADE]))

    # ---- whole numbers -----------------------------------------------------------------------------------

    def chosen(self, seconds: float) -> list[StandingDay]:
        """The best whole choice found among the columns at hand; none where there is no time for any."""
        highs = new_solver()
        highs.passModel(self.highs.getModel())
        for n in range(len(self.rows), highs.getNumCol()):
            highs.changeColIntegrality(n, highspy.HighsVarType.kInteger)
        highs.setOptionValue("mip_max_nodes", NODES)
        highs.setOptionValue("time_limit", max(0.1, seconds))
        highs.run()
        self.work.add(LOOK_A_COLUMN * len(self.columns) * max(1, int(highs.getInfo().mip_node_count)))
        values = highs.getSolution().col_value[len(self.rows) :]
        return [column for column, share in zip(self.columns, values, strict=False) if share > 0.5]


def _saving(priced: Sequence[Priced]) -> float:
    """What the best columns of all positions would save together (below 0), if none is left out."""
    if not all(found.whole for found in priced):
        return -math.inf
    return sum(found.columns[0][1] for found in priced if found.columns)


def _rows_of_spots(mine: Dates, rows: Sequence[Row]) -> list[list[int]]:
    """By spot the rows that its candidate counts in."""
    inner = [[n for n, row in enumerate(rows) if one in row.candidates] for one in mine.candidates]
    return [[], *inner, []]


def _way(mine: Dates, spots: Sequence[Sequence[int]]) -> PositionWay:
    """The position for the compiled walk: what counts in no row is on no date."""
    bit = {row: n for n, row in enumerate(sorted({row for rows in spots for row in rows}))}
    bits = np.array([sum(1 << bit[row] for row in rows) for rows in spots], np.int64)
    there = np.where(bits > 0, mine.there, 0)
    there[[0, -1]] = mine.there[[0, -1]]
    return PositionWay(mine.drive, mine.lunch.astype(np.int64), mine.weeks, there, bits)


def _spots(room: DateLabels, label: int) -> Spots:
    found: list[int] = []
    while label > 0:
        found.append(int(room.rows[label, SPOT]))
        label = int(room.rows[label, PARENT])
    return tuple(reversed(found))
