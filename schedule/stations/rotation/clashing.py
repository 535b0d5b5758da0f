"""The smallest set of wishes that can't all hold, for a rotation that misses something.

Hitting sets (Liffiton and Sakallah 2008; Ignatiev, Previti, Liffiton and Marques-Silva 2015): a smallest set that
meets everything that some arrangement had to give up, until that set itself can't hold. A set from which nothing
can be left out is found first, so that there is an answer when the work ends; whether it is the smallest is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.stations.rotation.asked import RotationAsked
from schedule.stations.rotation.model import RotationModel, solver_for, total
from schedule.stations.rotation.rules import rotation_model
from schedule.stations.rotation.wishes import Wish

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")

CLASH_EFFORT = 0.3
"""Work for one question, in the solver's own seconds; a question that it doesn't answer counts as "can hold"."""

MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class RotationClash:
    """Wishes that can't all hold; none of them can be left out of it. ``smallest``: no smaller set clashes."""

    wishes: tuple[Wish, ...]
    smallest: bool


def rotation_clash(asked: RotationAsked) -> RotationClash | None:
    """The smallest clash, or None where every wish can hold (or it isn't known that they can't)."""
    made = rotation_model(asked, for_clash=True)
    every = frozenset(made.switches)
    if not _clashes(made, every):
        return None
    known = _nothing_to_leave_out(made, sorted(every))
    given_up: list[frozenset[Wish]] = []
    for _ in range(MOST_ROUNDS):
        tried = _smallest_meeting(given_up)
        if len(tried) >= len(known):
            return RotationClash(tuple(sorted(known)), smallest=True)
        if _clashes(made, tried):
            return RotationClash(tuple(sorted(tried)), smallest=True)
        lost = _given_up(made, tried)
        if lost is None:
            break
        given_up.append(lost)
    return RotationClash(tuple(sorted(known)), smallest=False)


def _nothing_to_leave_out(made: RotationModel, wishes: list[Wish]) -> frozenset[Wish]:
    """A clash from which nothing can be left out: larger parts are tried first, then one after the other."""
    kept, size = wishes, len(wishes) // 2
    while size:
        start = 0
        while start < len(kept):
            fewer = kept[:start] + kept[start + size :]
            if _clashes(made, frozenset(fewer)):
                kept = fewer
            else:
                start += size
        size //= 2
    return frozenset(kept)


def _with(made: RotationModel, held: Iterable[Wish]) -> cp_model.CpModel:
    model = made.model.clone()
    for wish in held:
        model.add(model.get_bool_var_from_proto_index(made.switches[wish].index) == 1)
    return model


def _clashes(made: RotationModel, held: frozenset[Wish]) -> bool:
    """Whether these can't all hold."""
    model = _with(made, held)
    for wish, switch in made.switches.items():
        if wish not in held:
            model.add(model.get_bool_var_from_proto_index(switch.index) == 0)
    return solver_for(CLASH_EFFORT).solve(model) == cp_model.INFEASIBLE


def _given_up(made: RotationModel, held: frozenset[Wish]) -> frozenset[Wish] | None:
    """What has to be given up, as little as possible, while these hold."""
    model, solver = _with(made, held), solver_for(CLASH_EFFORT)
    switches = {wish: model.get_bool_var_from_proto_index(var.index) for wish, var in made.switches.items()}
    model.maximize(total(switches.values()))
    if solver.solve(model) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return None
    return frozenset(wish for wish, var in switches.items() if not solver.boolean_value(var))


def _smallest_meeting(given_up: list[frozenset[Wish]]) -> frozenset[Wish]:
    """A smallest set that has something of each."""
    model = cp_model.CpModel()
    chosen: dict[Wish, cp_model.IntVar] = {}
    for wish in sorted(frozenset[Wish]().union(*given_up)):
        chosen[wish] = model.new_bool_var("")
    for lost in given_up:
        model.add_bool_or([chosen[wish] for wish in lost])
    model.minimize(total(chosen.values()))
    solver = solver_for(CLASH_EFFORT)
    solver.solve(model)
    return frozenset(wish for wish, var in chosen.items() if solver.boolean_value(var))
