"""The integer program of an allotment: columns, rows, and one aim after the other. SolvedAim with HiGHS.

Columns are sessions of a share in a week, days at a building beyond those that the week needs anyway, sessions that
a class adds, minutes above a week's room, and how far a share is from its even pace. All costs are whole numbers.
"""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np

from schedule.terms.allotment.question import (
    AllotmentAim,
    AllotmentError,
    AllotmentQuestion,
    RoomWeek,
    Share,
    ShareKind,
    WeekChance,
)

INFINITY = highspy.kHighsInf
SMALL = 1e-6

type Sum = Mapping[int, float]


@dataclass(frozen=True, slots=True)
class AllotmentLimits:
    """Work allowed for one aim: nodes of the search tree; the clock only ends it early."""

    nodes: int = 100
    seconds: float = 5.0


@dataclass(slots=True)
class AllotmentModel:
    """Columns and rows so far, and the sum that each aim makes small."""

    question: AllotmentQuestion
    highs: list[float] = field(default_factory=list)
    lows: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[float, float, Sum]] = field(default_factory=list)
    aims: dict[AllotmentAim, dict[int, float]] = field(default_factory=lambda: {aim: {} for aim in AllotmentAim})
    held: dict[tuple[int, dt.date], int] = field(default_factory=dict)
    trips: dict[tuple[dt.date, str], int] = field(default_factory=dict)

    def column(self, low: float, high: float, *, whole: bool = True) -> int:
        """A new column."""
        self.lows.append(low)
        self.highs.append(high)
        self.whole.append(whole)
        return len(self.lows) - 1

    def at_most(self, entries: Sum, high: float) -> None:
        """A row."""
        self.rows.append((-INFINITY, high, dict(entries)))

    def cost(self, aim: AllotmentAim, column: int, each: float) -> None:
        """What one of a column adds to an aim."""
        self.aims[aim][column] = self.aims[aim].get(column, 0.0) + each


def build(question: AllotmentQuestion) -> AllotmentModel:
    """The whole program."""
    model = AllotmentModel(question)
    _counts(model)
    _one_period_a_week(model)
    for week in question.weeks:
        _week(model, week)
    for at, share in enumerate(question.shares):
        _pace(model, at, share)
    return model


MISSING = {
    ShareKind.OWED: AllotmentAim.MISSING,
    ShareKind.MAKE_GOOD: AllotmentAim.NOT_MADE_GOOD,
    ShareKind.RESERVE: AllotmentAim.NO_RESERVE,
}


def _counts(model: AllotmentModel) -> None:
    """A period's sessions are held exactly once, or counted as missing."""
    for at, share in enumerate(model.question.shares):
        stays = sum(one.least for one in share.chances)
        missing = model.column(0, share.count)
        model.cost(MISSING[share.kind], missing, share.minutes)
        entries = {missing: 1.0}
        for one in share.chances:
            column = model.column(one.least, one.most)
            model.held[at, one.monday] = column
            entries[column] = 1.0
            _bunched(model, column, one)
        total = float(max(share.count, stays))
        model.rows.append((total, total, entries))


def _bunched(model: AllotmentModel, column: int, one: WeekChance) -> None:
    if one.pace is not None and one.pace < one.most:
        more = model.column(0, one.most)
        model.cost(AllotmentAim.BUNCHED, more, 1)
        model.at_most({column: 1.0, more: -1.0}, one.pace)


def _one_period_a_week(model: AllotmentModel) -> None:
    """A week's sessions of a service are of one length; those of two months in one week may be held in either."""
    found: dict[tuple[int, dt.date], list[int]] = defaultdict(list)
    for at, share in enumerate(model.question.shares):
        if share.kind is ShareKind.OWED:
            for one in share.chances:
                found[share.line, one.monday].append(at)
    for (_, monday), several in found.items():
        if len(several) > 1:
            _apart(model, monday, several)


def _apart(model: AllotmentModel, monday: dt.date, several: Sequence[int]) -> None:
    shares = [model.question.shares[at] for at in several]
    alike = len({share.minutes for share in shares}) == 1
    more = model.column(0, len(several) - 1 if alike else 0)
    model.cost(AllotmentAim.MIXED, more, 1)
    used = {more: -1.0}
    for at, share in zip(several, shares, strict=True):
        most = next(one.most for one in share.chances if one.monday == monday)
        any_held = model.column(0, 1)
        model.at_most({model.held[at, monday]: 1.0, any_held: -float(most)}, 0)
        used[any_held] = 1.0
    model.at_most(used, 1)


# ---- one week --------------------------------------------------------------------------------------------


def _week(model: AllotmentModel, week: RoomWeek) -> None:
    """The room of the week and of its buildings, and what more days there cost."""
    over = model.column(0, INFINITY)
    model.cost(AllotmentAim.OVERFULL, over, 1)
    owed: dict[int, float] = {over: -1.0}
    every: dict[int, float] = {over: -1.0}
    for place in week.stops:
        for column, minutes in _place(model, week, place):
            owed[column] = every[column] = minutes
    for kind in (ShareKind.MAKE_GOOD, ShareKind.RESERVE):
        every |= {column: float(share.minutes) for column, share in _of_kind(model, week, kind)}
    room = float(max(week.room, 0))
    model.at_most(owed, room)
    if len(every) > len(owed):
        model.at_most(every, room)


def _of_kind(model: AllotmentModel, week: RoomWeek, kind: ShareKind) -> Iterator[tuple[int, Share]]:
    for at, share in enumerate(model.question.shares):
        if share.kind is kind and (at, week.monday) in model.held:
            yield model.held[at, week.monday], share


type Members = Sequence[tuple[int, Share]]


def _place(model: AllotmentModel, week: RoomWeek, place: str) -> Iterator[tuple[int, float]]:
    """The columns of what is owed at a building, each with the minutes that one of it takes."""
    stop, members = week.stops[place], _members(model, week.monday, place)
    if not members:
        return
    trip = model.column(0, max(stop.most - stop.days, 0))
    model.trips[week.monday, place] = trip
    model.cost(AllotmentAim.COST, trip, stop.trip)
    for column, share in members:
        each = _a_day(share, week.monday)
        model.at_most({column: 1.0, trip: -each}, stop.days * each)
    taken = dict(_taken(model, week, [one for one in members if one[1].kind is ShareKind.OWED]))
    crowded = model.column(0, INFINITY)
    model.cost(AllotmentAim.OVERFULL, crowded, 1)
    model.at_most({**taken, trip: -float(stop.a_day), crowded: -1.0}, float(max(stop.free, 0)))
    for column, minutes in taken.items():
        model.cost(AllotmentAim.COST, column, minutes)
    yield trip, float(stop.trip)
    yield from taken.items()


def _members(model: AllotmentModel, monday: dt.date, place: str) -> Members:
    """What is held at a building in a week, room in reserve apart."""
    return [
        (model.held[at, monday], share)
        for at, share in enumerate(model.question.shares)
        if share.kind is not ShareKind.RESERVE and _is_at(share, monday, place)
    ]


def _a_day(share: Share, monday: dt.date) -> float:
    """Sessions that one day at the building may hold."""
    return 1.0 if share.apart else float(next(one.most for one in share.chances if one.monday == monday))


def _is_at(share: Share, monday: dt.date, place: str) -> bool:
    return any(one.monday == monday and one.place == place for one in share.chances)


def _taken(model: AllotmentModel, week: RoomWeek, members: Members) -> Iterator[tuple[int, float]]:
    """Sessions of the teacher's own: of a class only those that it doesn't hold anyway, each once."""
    classes: dict[tuple[str, int], int] = {}
    for column, share in members:
        if not share.company:
            yield column, float(share.minutes)
            continue
        key = share.company, share.minutes
        if key not in classes:
            classes[key] = model.column(0, INFINITY)
            yield classes[key], float(share.minutes)
        model.at_most({column: 1.0, classes[key]: -1.0}, float(week.companies.get(share.company, 0)))


# ---- the pace --------------------------------------------------------------------------------------------


def _pace(model: AllotmentModel, at: int, share: Share) -> None:
    """How far the sessions held up to each week are from an even pace, in session days; make-goods come soon.

    Sessions are whole, so between two whole numbers the distance is drawn as a straight line: without that row the
    relaxed program would meet every pace exactly, and its bound would say nothing.
    """
    if share.kind is ShareKind.MAKE_GOOD:
        for number, one in enumerate(share.chances):
            model.cost(AllotmentAim.PACE, model.held[at, one.monday], number)
        return
    whole, through = max(sum(one.days for one in share.chances), 1), 0
    held: list[int] = []
    for one in share.chances:
        through += one.days
        held.append(model.held[at, one.monday])
        target = share.count * through
        away = model.column(0, INFINITY, whole=False)
        model.cost(AllotmentAim.PACE, away, 1)
        fewer = target // whole
        between = whole * (2 * fewer + 1) - 2 * target
        for slope, base in (
            (-whole, target),
            (whole, -target),
            (between, target - whole * fewer - between * fewer),
        ):
            model.at_most({**dict.fromkeys(held, float(slope)), away: -1.0}, float(-base))


# ---- solving ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SolvedAim:
    """Values of the columns, the aim's value, and its bound."""

    values: tuple[float, ...]
    value: int
    bound: int


def first(model: AllotmentModel) -> tuple[float, ...]:
    """An answer to begin with: only the sessions that stay. Raises `AllotmentError` where these contradict."""
    solver = _solver(model, {})
    for column in model.held.values():
        solver.changeColBounds(column, model.lows[column], model.lows[column])
    solver.run()
    if not _has_answer(solver):
        raise AllotmentError("The sessions that stay are of two lengths in one week, or more than its days hold.")
    return tuple(solver.getSolution().col_value)


def least(model: AllotmentModel, aim: AllotmentAim, limits: AllotmentLimits, before: Sequence[float]) -> SolvedAim:
    """The least of an aim, held from then on. `before` are values that keep every row: the answer if time ends."""
    costs = model.aims[aim]
    solver = _solver(model, costs)
    solver.setOptionValue("mip_max_nodes", limits.nodes)
    solver.setOptionValue("time_limit", limits.seconds)
    known = highspy.HighsSolution()
    known.col_value = list(before)
    solver.setSolution(known)
    solver.run()
    values = tuple(solver.getSolution().col_value) if _has_answer(solver) else tuple(before)
    value = min(_value(costs, values), _value(costs, before))
    if value < _value(costs, values):
        values = tuple(before)
    bound = solver.getInfo().mip_dual_bound
    proved = math.ceil(bound - SMALL) if math.isfinite(bound) else 0
    model.at_most(costs, value + SMALL)
    return SolvedAim(values, value, min(value, max(0, proved)))


def _value(costs: Sum, values: Sequence[float]) -> int:
    return round(sum(cost * values[column] for column, cost in costs.items()))


def _has_answer(solver: highspy.Highs) -> bool:
    status = solver.getInfo().primal_solution_status
    return bool(status == highspy.SolutionStatus.kSolutionStatusFeasible)


def _solver(model: AllotmentModel, costs: Sum) -> highspy.Highs:
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # its stubs leave it untyped
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", 0)
    solver.setOptionValue("mip_rel_gap", 0.0)
    none = np.array([], np.int32), np.array([], np.float64)
    for column, (low, high) in enumerate(zip(model.lows, model.highs, strict=True)):
        solver.addCol(costs.get(column, 0.0), low, high, 0, *none)
        if model.whole[column]:
            solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    for low, high, entries in model.rows:
        columns, values = np.array(list(entries), np.int32), np.array(list(entries.values()), np.float64)
        solver.addRow(low, high, len(entries), columns, values)
    return solver
