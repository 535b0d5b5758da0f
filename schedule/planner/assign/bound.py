"""What must be driven at least, whoever serves whom: a relaxation that no real week is better than.

A teacher's day is a set of buildings: its driving is the shortest way around them, and it holds session minutes
up to the contract day less that way, lunch, blocks and preparation, and no more than lie between the first building
that opens and the last that closes, less lunch and the ways between them; in no building more than its hours, less
lunch. How often
each teacher has which set is chosen so that

- no teacher has more days than the contract,
- any buildings together (one, two, all but one, all) have room for what is owed there,
- each bundle has one teacher who may have it, with a day in the building for each of its sessions.

Bells, the turn of lunch, and which student is seen when are left out, so driving can only be less than in weeks. A
linear program leaves out sets that no better assignment can have, by their reduced costs; if few are left, they are
solved in whole numbers by HiGHS in one thread, up to a number of nodes. Sets are listed, so districts are small.
"""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

import highspy
import numpy as np
from numpy.typing import NDArray

from schedule.planner.assign.bundles import Bundle
from schedule.planner.assign.question import Itinerant, Staffing
from schedule.planner.days import Day, Lunch
from schedule.planner.proving.quiet import new_solver

MOST_PLACES = 12
"""With more buildings nothing is bounded: their sets are too many to list."""

MOST_NODES, MOST_COLUMNS = 300, 2_000
"""With more sets left over by the linear program its own bound stays; whole numbers would take minutes."""

DAY = 24 * 60

NEAR = 1e-6
"""Less than this is rounding."""

type Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _DaySets:
    """One kind of a teacher's days with the sets of buildings that it can hold, as bits."""

    teacher: int
    count: int
    sets: NDArray[np.int64]
    drive: Floats
    room: Floats
    hours: Floats
    """Session minutes in each building alone, at most."""


def least_driving(question: Staffing, parts: tuple[Bundle, ...], driving: int) -> int:
    """No assignment that places everything and misses no preparation drives less a week; ``driving`` at most.

    ``driving``: of such an assignment that is known; where the answer is the same, it is proved. 0: no bound.
    """
    places = list(dict.fromkeys(service.place for service in question.services))
    if not 0 < len(places) <= MOST_PLACES or any(not part.allowed for part in parts):
        return 0
    kinds = _kinds(question, parts, places)
    rows, least, costs = _rows(question, parts, places, kinds)
    if not len(costs):
        return 0
    solver = _solved(rows, least, costs, is_whole=False)
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return 0
    base = solver.getInfo().objective_function_value
    reduced = np.array(solver.getSolution().col_dual)
    kept = reduced <= driving - 1 - base + NEAR
    if np.count_nonzero(kept) > MOST_COLUMNS:
        return min(driving, math.ceil(base - NEAR))
    whole = _solved(rows[:, kept], least, costs[kept], is_whole=True)
    if whole.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return driving
    return min(driving, math.ceil(max(base, whole.getInfo().mip_dual_bound) - NEAR))


def _closed(table: Floats) -> Floats:
    """Shortest ways over all places (R. Floyd 1962), so that a detour is never shorter."""
    for middle in range(len(table)):
        table = np.minimum(table, table[:, [middle]] + table[[middle], :])
    return table


def _ways(table: Floats, begin: int | None, end: int | None, at: list[int]) -> Floats:
    """The shortest way from the beginning around each set of buildings to the end (M. Held and R. Karp 1962)."""
    inner = table[np.ix_(at, at)]
    best = np.full((1 << len(at), len(at)), np.inf)
    for n, place in enumerate(at):
        best[1 << n, n] = 0.0 if begin is None else table[begin, place]
    for mask in range(1, 1 << len(at)):
        onward = (best[mask][:, None] + inner).min(axis=0)
        for n in range(len(at)):
            if not mask >> n & 1:
                best[mask | 1 << n, n] = min(best[mask | 1 << n, n], onward[n])
    home = np.zeros(len(at)) if end is None else table[at, end]
    return np.asarray((best + home).min(axis=1))


def _tables(question: Staffing) -> tuple[Floats, Floats]:
    """Minutes from each place to each other one: on the road, and with leaving and arriving."""
    order = question.places
    drive = np.array([[0 if a is b else question.drive_minutes[a.id][b.id] for b in order] for a in order], float)
    leave = np.array([one.leave_minutes for one in order], float)
    arrive = np.array([one.arrive_minutes for one in order], float)
    leg = drive + leave[:, None] + arrive[None, :]
    np.fill_diagonal(leg, 0)
    return drive, leg


def _kinds(question: Staffing, parts: tuple[Bundle, ...], places: list[str]) -> list[_DaySets]:
    """Every teacher's days, those that are alike together."""
    number = {one.id: n for n, one in enumerate(question.places)}
    drive, leg = _tables(question)
    drive, leg = _closed(drive), _closed(leg)
    at = [number[one] for one in places]
    inner = _ways(leg, None, None, at)
    found: list[_DaySets] = []
    for t, teacher in enumerate(question.teachers):
        for kind, count in Counter(_key(day) for day in teacher.days).items():
            first, last = (None if one is None else number[one] for one in (kind.begin, kind.end))
            ways, legs = (_ways(table, first, last, at) for table in (drive, leg))
            opens, closes = _windows(question, places, kind, leg, (first, last), at)
            room = np.minimum(kind.minutes - legs, _between(opens, closes, kind.lunch) - inner)
            sets = _possible(teacher, parts, places, room)
            hours = np.maximum(0.0, _less_lunch(opens, closes, kind.lunch))
            found.append(_DaySets(t, count, sets, ways[sets], room[sets], hours))
    return found


class _Kind(NamedTuple):
    """Days that are alike: from when to when and where, minutes for sessions and drives, and lunch."""

    begin: str | None
    end: str | None
    start: int
    over: int
    minutes: int
    lunch: Lunch | None


def _key(day: Day) -> _Kind:
    blocks = (min(block.end, day.end) - max(block.start, day.start) for block in day.blocks)
    off = day.preparation_minutes + sum(max(0, minutes) for minutes in blocks)
    lunch = 0 if day.lunch is None else day.lunch.minutes
    minutes = day.end - day.start - off - lunch
    return _Kind(day.start_place, day.end_place, day.start, day.end, minutes, day.lunch)


def _windows(
    question: Staffing,
    places: list[str],
    kind: _Kind,
    leg: Floats,
    ends: tuple[int | None, int | None],
    at: list[int],
) -> tuple[Floats, Floats]:
    """From when to when a session can be held in each building: its hours, after the way there, before that home.

    Where times are known they may lie outside a building's hours.
    """
    known = {one.place for one in question.services if one.starts}
    hours = [(0, DAY) if one in known else (question.site(one).opens, question.site(one).closes) for one in places]
    there = np.zeros(len(at)) if ends[0] is None else leg[ends[0], at]
    home = np.zeros(len(at)) if ends[1] is None else leg[at, ends[1]]
    opens = np.maximum(kind.start + there, np.array([one for one, _ in hours]))
    return opens, np.minimum(kind.over - home, np.array([one for _, one in hours]))


def _less_lunch(opens: Floats, closes: Floats, lunch: Lunch | None) -> Floats:
    """Minutes from opening to closing, less lunch where all that it can be had in lies between the two."""
    if lunch is None:
        return np.asarray(closes - opens)
    inside = (opens <= lunch.earliest) & (lunch.latest_end <= closes)
    return np.asarray(closes - opens - lunch.minutes * inside)


def _between(opens: Floats, closes: Floats, lunch: Lunch | None) -> Floats:
    """For each set of buildings: minutes from the first that opens to the last that closes, less lunch."""
    first, last = np.full(1 << len(opens), np.inf), np.full(1 << len(opens), -np.inf)
    for n in range(len(opens)):
        first[1 << n : 2 << n] = np.minimum(first[: 1 << n], opens[n])
        last[1 << n : 2 << n] = np.maximum(last[: 1 << n], closes[n])
    first[0] = last[0] = 0.0
    return _less_lunch(first, last, lunch)


def _possible(teacher: Itinerant, parts: tuple[Bundle, ...], places: list[str], room: Floats) -> NDArray[np.int64]:
    """Sets of buildings where somebody is whom the teacher may have, with time for the shortest session in each."""
    least = dict.fromkeys(places, np.inf)
    for part in parts:
        for one in part.services if teacher.id in part.allowed else ():
            least[one.place] = min(least[one.place], one.minutes)
    sets = np.arange(1, 1 << len(places))
    needs = np.zeros(len(sets))
    for n, place in enumerate(places):
        inside = (sets >> n & 1).astype(bool)
        needs[inside] += least[place]
    return sets[needs <= room[1:]]


def _rows(
    question: Staffing, parts: tuple[Bundle, ...], places: list[str], kinds: list[_DaySets]
) -> tuple[Floats, Floats, Floats]:
    """Rows that are each at least something, and what the columns cost: days by set, then teachers of bundles."""
    width = sum(len(one.sets) for one in kinds)
    rows: list[_Row] = [(row, {}, least) for row, least in (*_counts(kinds), *_rooms(question, places, kinds))]
    choices = 0
    for needs, allowed in dict.fromkeys((_needs(part), part.allowed) for part in parts):
        rows.append((np.zeros(width), {choices + n: 1.0 for n in range(len(allowed))}, 1.0))
        for who in allowed:
            for place, days in needs:
                rows.append((_visits(question, kinds, who, places.index(place)), {choices: -float(days)}, 0.0))
            choices += 1
    costs = np.concatenate([*(one.drive for one in kinds), np.zeros(choices)])
    return _matrix(rows, width, choices), np.array([least for _, _, least in rows]), costs


type _Row = tuple[Floats, dict[int, float], float]
"""A row's values for days by set, for teachers of bundles by number, and what it is at least."""


def _counts(kinds: list[_DaySets]) -> Iterator[tuple[Floats, float]]:
    """No more days of a kind than there are."""
    for n, kind in enumerate(kinds):
        held = [np.full(len(one.sets), -1.0 if m == n else 0.0) for m, one in enumerate(kinds)]
        yield np.concatenate(held), -kind.count


def _matrix(rows: list[_Row], width: int, choices: int) -> Floats:
    found = np.zeros((len(rows), width + choices))
    for m, (row, chosen, _) in enumerate(rows):
        found[m, :width] = row
        for column, value in chosen.items():
            found[m, width + column] = value
    return found


def _needs(part: Bundle) -> tuple[tuple[str, int], ...]:
    """Days in each building that a bundle needs of its teacher."""
    days: Counter[str] = Counter()
    for one in part.services:
        days[one.place] = max(days[one.place], one.sessions if one.days_apart > 0 else 1)
    return tuple(sorted(days.items()))


def _visits(question: Staffing, kinds: list[_DaySets], who: str, place: int) -> Floats:
    """1 for each day of a teacher with a building in it."""
    return np.concatenate(
        [(one.sets >> place & 1) * float(question.teachers[one.teacher].id == who) for one in kinds]
    )


def _rooms(question: Staffing, places: list[str], kinds: list[_DaySets]) -> Iterator[tuple[Floats, float]]:
    """Room that each day has for buildings together, and what is owed there."""
    owed = Counter[str]()
    for service in question.services:
        owed[service.place] += service.week_minutes
    for group in _groups(len(places)):
        rooms = [np.minimum(one.room, sum((one.sets >> n & 1) * one.hours[n] for n in group)) for one in kinds]
        yield np.concatenate(rooms), float(sum(owed[places[n]] for n in group))


def _groups(count: int) -> list[tuple[int, ...]]:
    """Which buildings are looked at together: each, each two, all but one, and all."""
    several = {group for size in (1, 2, count - 1, count) for group in combinations(range(count), size)}
    return sorted(group for group in several if group)


def _solved(rows: Floats, least: Floats, costs: Floats, *, is_whole: bool) -> highspy.Highs:
    """Least costs with each row at least so much; columns are no less than nothing."""
    solver, problem = new_solver(), highspy.HighsLp()
    problem.num_row_, problem.num_col_ = rows.shape
    problem.col_cost_, problem.col_lower_ = costs, np.zeros(len(costs))
    problem.col_upper_ = np.full(len(costs), highspy.kHighsInf)
    problem.row_lower_, problem.row_upper_ = least, np.full(len(least), highspy.kHighsInf)
    problem.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    column, row = np.nonzero(rows.T)
    problem.a_matrix_.start_ = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=len(costs)))])
    problem.a_matrix_.index_ = row.astype(np.int32)
    problem.a_matrix_.value_ = rows[row, column]
    if is_whole:
        problem.integrality_ = [highspy.HighsVarType.kInteger] * len(costs)
    solver.passModel(problem)
    solver.setOptionValue("mip_max_nodes", MOST_NODES)
    solver.run()
    return solver
