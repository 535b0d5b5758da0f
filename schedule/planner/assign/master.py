"""The best of all parts that were priced: one set of services for each teacher, every bundle once.

Set partitioning over columns, each a teacher with a set of services as the planner prices it:

- least sum of cost of column * x, where minutes not placed come first and preparation missed next;
- each bundle: sum of x of the columns that have it, and whether nobody has it, = 1;
- each teacher: sum of x = 1 (nothing to do is a column as well).

The columns are those that the search came by, so the answer is the best of their combinations and no bound for
others. Solved with HiGHS in one thread, so that it comes out alike everywhere.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import highspy
import numpy as np

from schedule.planner.assign.answer import Worth, YearLoad
from schedule.planner.assign.bundles import Bundle
from schedule.planner.assign.question import Staffing
from schedule.planner.proving.quiet import new_solver

MISSED, LEFT = 1e3, 1e6
"""What a minute of preparation missed, and a minute not placed, count beside a minute of driving."""

MOST_NODES = 2_000


@dataclass(frozen=True, slots=True)
class _Column:
    teacher: int
    bundles: frozenset[int]
    cost: float
    services: tuple[str, ...]


def recombined(
    question: Staffing,
    parts: tuple[Bundle, ...],
    known: Mapping[tuple[str, frozenset[str]], YearLoad],
    worth: Worth,
    work: float,
) -> list[Mapping[str, str]]:
    """The best assignment of these parts; nothing where they can't be put together. ``work``: as in ``search``."""
    columns = _columns(question, parts, known, worth, work)
    if not columns:
        return []
    solver = _problem(columns, len(question.teachers), parts)
    solver.run()
    if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return []
    values = solver.getSolution().col_value
    chosen = [one for one, share in zip(columns, values, strict=False) if share > 0.5]
    return [{service: question.teachers[one.teacher].id for one in chosen for service in one.services}]


def _columns(
    question: Staffing,
    parts: tuple[Bundle, ...],
    known: Mapping[tuple[str, frozenset[str]], YearLoad],
    worth: Worth,
    work: float,
) -> list[_Column]:
    number = {one.id: n for n, one in enumerate(question.teachers)}
    contract = sum(one.contract_minutes for one in question.teachers)
    bundle = {one.id: n for n, part in enumerate(parts) for one in part.services}
    found: list[_Column] = []
    for (teacher, services), load in known.items():
        mine = frozenset(bundle[one] for one in services)
        if not _is_legal(question, parts, mine, load):
            continue
        changes = sum(parts[b].changes[teacher] for b in mine)
        cost = worth.change * changes + _cost(load, worth, work * load.contract / contract)
        found.append(_Column(number[teacher], mine, cost, load.services))
    return found


def _cost(load: YearLoad, worth: Worth, even: float) -> float:
    """What a part counts apart from changes; ``even``: its teacher's even share of the work."""
    off = abs(load.placed + load.driving - even)
    cost = worth.driving * load.driving + worth.uneven * off + worth.meeting * len(load.places)
    return cost + MISSED * load.short + LEFT * load.unplaced


def _is_legal(question: Staffing, parts: tuple[Bundle, ...], mine: frozenset[int], load: YearLoad) -> bool:
    """Whether a part holds whole bundles that its teacher may have, and no more than the contract."""
    most = question.teacher(load.teacher).most_minutes
    is_whole = sum(len(parts[b].services) for b in mine) == len(load.services)
    return is_whole and (most is None or load.owed <= most) and all(load.teacher in parts[b].allowed for b in mine)


def _problem(columns: list[_Column], teachers: int, parts: tuple[Bundle, ...]) -> highspy.Highs:
    """Rows: teachers, then bundles. Columns: those given, then one for each bundle that nobody has."""
    solver, problem = new_solver(), highspy.HighsLp()
    entries = [sorted([one.teacher, *(teachers + b for b in one.bundles)]) for one in columns]
    entries += [[teachers + b] for b in range(len(parts))]
    costs = [one.cost for one in columns] + [2 * LEFT * part.minutes for part in parts]
    problem.num_col_, problem.num_row_ = len(entries), teachers + len(parts)
    problem.col_cost_ = np.array(costs)
    problem.col_lower_, problem.col_upper_ = np.zeros(len(entries)), np.ones(len(entries))
    problem.row_lower_ = np.array([0.0] * teachers + [1.0] * len(parts))
    problem.row_upper_ = np.ones(teachers + len(parts))
    problem.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    problem.a_matrix_.start_ = np.cumsum([0] + [len(one) for one in entries])
    problem.a_matrix_.index_ = np.array([row for one in entries for row in one], dtype=np.int32)
    problem.a_matrix_.value_ = np.ones(sum(len(one) for one in entries))
    problem.integrality_ = [highspy.HighsVarType.kInteger] * len(entries)
    solver.passModel(problem)
    solver.setOptionValue("mip_max_nodes", MOST_NODES)
    return solver
