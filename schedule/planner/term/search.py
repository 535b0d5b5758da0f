"""The search for a standing timetable that is cheap over all weeks of a term.

Large neighborhood search (Shaw 1998; Ropke and Pisinger 2006) as for one week, but a session goes in and out of
every kind of week at once, and costs what it costs over the term: the template of consistent routing (Groer, Golden
and Wasil 2009) weighed by all weeks that follow it.
"""

import math
import random
from collections import Counter
from collections.abc import Callable, Sequence

from schedule.planner.term.expected import expected_in
from schedule.planner.term.shared import TermState
from schedule.planner.term.term import StandingSession, StandingTimetable

type Candidates = dict[str, tuple[StandingSession, ...]]
"""By unit: every way in which it could stand."""

NO_LIMIT = 10**9
NOISE = 0.15
COOLING = (0.01, 0.0005)
"""Share of the cost by which a worse timetable may be taken, at the beginning and at the end."""


def candidates_of(state: TermState) -> Candidates:
    """Every standing session that some week could hold, those pinned in every week left out."""
    found: dict[str, set[StandingSession]] = {}
    for kind in state.kinds:
        for session in kind.nodes:
            found.setdefault(session.unit, set()).add(session)
    return {unit: tuple(sorted(sessions)) for unit, sessions in sorted(found.items())}


def improve_timetable(
    state: TermState,
    rng: random.Random,
    progress: Callable[[], float],
    on_better: Callable[[TermState, int], None] = lambda state, cost: None,
) -> tuple[TermState, int]:
    """The best timetable met and its cost. ``progress()`` is the share of the time that is used; the end is 1."""
    candidates = candidates_of(state)
    movable = {one for mine in candidates.values() for one in mine}
    best = current = state
    best_cost = current_cost = state.cost(NO_LIMIT)
    while movable.intersection(current.sessions) and (used := progress()) < 1.0:
        trial = current.copy()
        removed = _chosen([one for one in trial.sessions if one in movable], rng)
        trial.take_out(removed)
        _put_back(trial, removed, candidates, rng)
        slack = COOLING[0] * (1 - used) + COOLING[1] * used
        most = int(current_cost + -math.log(max(1e-9, rng.random())) * slack * best_cost)
        cost = trial.cost(most)
        if cost <= most:
            current, current_cost = trial, cost
        if cost < best_cost:
            best, best_cost = trial, cost
            on_better(best, best_cost)
    return best, best_cost


def complete(state: TermState) -> None:
    """Let more sessions stand until every kind of week has as many as it owes, or nothing more fits."""
    candidates = candidates_of(state)
    for number, kind in enumerate(state.kinds):
        for service, owed in enumerate(kind.model.owed):
            unit = kind.model.problem.services[service].id
            for _ in range(owed):
                standing = set(state.sessions)
                mine = [one for one in candidates.get(unit, ()) if one in kind.nodes and one not in standing]
                enough = state.states[number].missing(service) <= 0 or _stands_often(state, number, unit, owed)
                if enough or not mine:
                    break
                state.put(min(mine, key=lambda one: (state.added(one), one)))


def _stands_often(state: TermState, number: int, unit: str, owed: int) -> bool:
    """Whether as many sessions of a unit stand on days of such a week as it owes, closed days counted."""
    week = state.kinds[number].week
    standing = StandingTimetable(tuple(one for one in state.sessions if one.unit == unit))
    return len(expected_in(week, standing)) >= owed


def _chosen(sessions: Sequence[StandingSession], rng: random.Random) -> list[StandingSession]:
    """Some sessions anywhere, all of a place or a kind of day, or neighbors in time."""
    seed = sessions[rng.randrange(len(sessions))]
    way = rng.random()
    if way < 0.4:
        return rng.sample(sessions, min(len(sessions), rng.randint(2, 7)))
    if way < 0.6:
        mine = [one for one in sessions if one.place == seed.place]
    elif way < 0.8:
        mine = [one for one in sessions if one.pattern_key == seed.pattern_key]
    else:
        mine = [one for one in sessions if abs(one.at - seed.at) <= 45]
    return rng.sample(mine, min(len(mine), rng.randint(3, 9)))


def _put_back(
    state: TermState, removed: Sequence[StandingSession], candidates: Candidates, rng: random.Random
) -> None:
    """As many of each unit as were taken out, those first that would regret waiting most."""
    left = Counter(one.unit for one in removed)
    table = {unit: _costs(state, candidates[unit]) for unit in left}
    while left := Counter({unit: count for unit, count in left.items() if count > 0 and table[unit]}):
        unit = max(left, key=lambda one: (_regret(table[one], rng), one))
        _, chosen = min(table[unit], key=lambda pair: (pair[0] * (1 + NOISE * rng.random()), pair[1]))
        state.put(chosen)
        left[unit] -= 1
        for one in left:
            table[one] = _costs(state, candidates[one])


def _costs(state: TermState, mine: Sequence[StandingSession]) -> list[tuple[int, StandingSession]]:
    standing = set(state.sessions)
    return [(state.added(one), one) for one in mine if one not in standing]


def _regret(costs: Sequence[tuple[int, StandingSession]], rng: random.Random) -> float:
    """What the best on another kind of day costs more than the best."""
    best: dict[str, int] = {}
    for cost, one in costs:
        best[one.pattern_key] = min(cost, best.get(one.pattern_key, cost))
    ordered = sorted(best.values())
    return (ordered[1] - ordered[0] if len(ordered) > 1 else 10**6) * (1 + NOISE * rng.random()) - ordered[0]
