"""A yardstick: the whole term as one CP-SAT model, a circuit for each day of each kind of week, tied together.

One variable for each way in which a session could stand, as many of a service as it owes; a kind of week pays the
worth of a usual time for each that stands and could be held in it and isn't. It starts from a term by insertion,
every variable hinted.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from benchmarks.plan_week import FlatModel
from schedule.planner.term.alike import units_of
from schedule.planner.term.search import complete
from schedule.planner.term.shared import AlikeWeeks, TermState, kinds_of
from schedule.planner.term.term import StandingSession, Term

NOT_PLACED = 1_000
"""Minutes of driving that a minute without a place weighs."""


@dataclass(frozen=True, slots=True)
class FlatTerm:
    """What the model found over the term (``None``: nothing): minutes without a place, driving, what leaves.

    ``bound``: no term weighs less, driving with the worth of what leaves and 1,000 for each minute without a place.
    """

    unplaced: int | None
    drive: int | None
    leaving: int | None
    bound: float
    variables: int

    def weight(self, worth: int) -> int | None:
        """Driving with the worth of what leaves and what has no place, as the bound has it."""
        if self.unplaced is None or self.drive is None or self.leaving is None:
            return None
        return NOT_PLACED * self.unplaced + self.drive + worth * self.leaving


def flat_term(term: Term, seconds: float, workers: int) -> FlatTerm:
    """The term by CP-SAT alone, for so many seconds of the clock."""
    kinds, _ = kinds_of(term.weeks)
    start = TermState(kinds, term.worth)
    complete(start)
    cp = cp_model.CpModel()
    flats = [FlatModel(kind.model, state, cp) for kind, state in zip(kinds, start.filled(), strict=True)]
    stood = set(start.sessions)
    stands = _stands(cp, kinds, stood)
    held = [_held(kind, flat) for kind, flat in zip(kinds, flats, strict=True)]
    leaves = [
        (kind.count, _leaves(cp, stands[one], [flat.visits[node] for node in nodes], one in stood - kept))
        for kind, flat, kept in zip(kinds, flats, held, strict=True)
        for one, nodes in kind.nodes.items()
    ]
    unplaced = sum(
        kind.count * value * missing
        for kind, flat in zip(kinds, flats, strict=True)
        for value, missing in zip(kind.model.value, flat.missing, strict=True)
    )
    drive = sum(kind.count * sum(flat.drive) for kind, flat in zip(kinds, flats, strict=True))
    leaving = sum(count * one for count, one in leaves)
    cp.minimize(NOT_PLACED * unplaced + drive + term.worth * leaving)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    variables = len(cp.proto.variables)
    if solver.solve(cp) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return FlatTerm(None, None, None, solver.best_objective_bound, variables)
    missing, driven, left = (int(solver.value(one)) for one in (unplaced, drive, leaving))
    return FlatTerm(missing, driven, left, solver.best_objective_bound, variables)


def _stands(
    cp: cp_model.CpModel, kinds: Sequence[AlikeWeeks], hinted: set[StandingSession]
) -> dict[StandingSession, cp_model.IntVar]:
    """For each way to stand whether it is taken: of a unit at least as many as it owes."""
    ways = sorted({one for kind in kinds for one in kind.nodes})
    found = {one: cp.new_bool_var(f"stands {number}") for number, one in enumerate(ways)}
    owed = {one.id: one.sessions for kind in kinds for one in kind.week.problem.services}
    for unit in sorted({unit.id for kind in kinds for unit in units_of(kind.week.problem)} & set(owed)):
        mine = [variable for one, variable in found.items() if one.unit == unit]
        if len(mine) >= owed[unit]:
            cp.add(sum(mine) >= owed[unit])
    for one, variable in found.items():
        cp.add_hint(variable, one in hinted)
    return found


def _held(kind: AlikeWeeks, flat: FlatModel) -> set[StandingSession]:
    """What the hinted week holds at every day of its kind."""
    routes = flat.start.routes
    return {one for one, nodes in kind.nodes.items() if all(number in routes[day].visits for day, number in nodes)}


def _leaves(
    cp: cp_model.CpModel, stands: cp_model.IntVar, visits: Sequence[cp_model.IntVar], hinted: bool
) -> cp_model.IntVar:
    """Whether it stands and isn't held."""
    leaves = cp.new_bool_var("")
    cp.add_hint(leaves, hinted)
    for visit in visits:
        cp.add(leaves >= stands - visit)
    return leaves
