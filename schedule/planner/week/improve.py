"""Large neighborhood search: take sessions out, put them back another way, keep what is better.

After P. Shaw (1998), "Using constraint programming and local search methods to solve vehicle routing
problems", and S. Ropke and D. Pisinger (2006), "An adaptive large neighborhood search heuristic for the
pickup and delivery problem with time windows", Transportation Science 40.
"""

import random
from collections.abc import Callable, Sequence

from schedule.planner.problem import Goal
from schedule.planner.week.construct import fill
from schedule.planner.week.objective import STEP
from schedule.planner.week.state import WeekState

MOST_OF_A_PLACE = 10

Removal = Callable[[WeekState, random.Random], list[tuple[int, int]]]


def improve(
    state: WeekState,
    rng: random.Random,
    iterations: int,
    halted: Callable[[], bool],
    on_better: Callable[[WeekState], None],
    on_trial: Callable[[WeekState], None] = lambda state: None,
    *,
    bold: bool = True,
    patience: int = 80,
    removals: Sequence[Removal] | None = None,
) -> WeekState:
    """The best state found in the given number of rounds, or fewer if ``halted`` says so.

    It also ends after ``patience`` rounds without a better one.
    If ``bold``, a slightly worse week is accepted now and then; the best one is what is returned.
    ``on_trial`` sees every week tried: their days are good columns for the exact search.
    """
    best, current, last_gain = state, state, 0
    best_rank, current_rank = state.rank, state.rank
    slack = _slack(state) if bold else 0
    ways = REMOVALS if removals is None else removals
    for round_number in range(iterations):
        if halted() or round_number - last_gain > patience:
            break
        trial = current.copy()
        _free(trial, ways[rng.randrange(len(ways))](trial, rng))
        fill(trial, regret=rng.random() < 0.7, rng=rng, noise=0.1, halted=halted)
        trial_rank = trial.rank
        on_trial(trial)
        if trial_rank < best_rank:
            best, best_rank, last_gain = trial, trial_rank, round_number
            on_better(best)
        allowance = slack * (iterations - round_number) // iterations
        if trial_rank <= current_rank or trial_rank <= best_rank + allowance:
            current, current_rank = trial, trial_rank
    return best


def settle(state: WeekState, halted: Callable[[], bool], passes: int = 3) -> WeekState:
    """Move one session at a time to wherever the goals in order gain, until nothing does.

    Finds what the days' proofs leave open: sessions at the same time each day, spread over the week.
    """
    best, best_rank = state, state.rank
    for _ in range(passes):
        before = best_rank
        for service in range(len(state.model.owed)):
            if halted():
                return best
            best, best_rank = _settle_service(best, best_rank, service)
        if best_rank == before:
            break
    return best


def _settle_service(best: WeekState, best_rank: int, service: int) -> tuple[WeekState, int]:
    for day, _ in list(best.held[service]):
        trial = best.copy()
        nodes = trial.model.days[day].nodes
        chosen = {n for n in trial.movable(day) if service in nodes[n].services}
        if not chosen or not trial.take_out(day, chosen):
            continue
        fill(trial, regret=False)
        trial_rank = trial.rank
        if trial_rank < best_rank:
            best, best_rank = trial, trial_rank
    return best, best_rank


def _slack(state: WeekState) -> int:
    """How much worse a week may be and still be worked on: a few minutes of driving."""
    weight = state.weights[Goal.DRIVING]
    return 6 * weight if weight else STEP // 100


def _free(state: WeekState, chosen: list[tuple[int, int]]) -> None:
    by_day: dict[int, set[int]] = {}
    for day, node in chosen:
        by_day.setdefault(day, set()).add(node)
    for day, nodes in sorted(by_day.items()):
        state.take_out(day, nodes)


def _all_movable(state: WeekState) -> list[tuple[int, int]]:
    return [(day, node) for day in range(len(state.routes)) for node in state.movable(day)]


def _few_anywhere(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """Some sessions anywhere in the horizon."""
    everything = _all_movable(state)
    wanted = min(len(everything), rng.randint(3, 10))
    return rng.sample(everything, wanted)


def _two_days(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """Everything on two days."""
    days = rng.sample(range(len(state.routes)), min(2, len(state.routes)))
    return [(day, node) for day in sorted(days) for node in state.movable(day)]


def _one_place(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """Everything in one building, and a few sessions more."""
    everything = _all_movable(state)
    if not everything:
        return []
    day, node = everything[rng.randrange(len(everything))]
    place = state.model.days[day].nodes[node].place
    chosen = [(d, n) for d, n in everything if state.model.days[d].nodes[n].place == place]
    return sorted({*chosen[:12], *_few_anywhere(state, rng)[:4]})


def _two_places(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """What is held in two buildings: their visits can change days with each other."""
    by_place: dict[int, list[tuple[int, int]]] = {}
    for day, node in _all_movable(state):
        by_place.setdefault(state.model.days[day].nodes[node].place, []).append((day, node))
    chosen = rng.sample(sorted(by_place), min(2, len(by_place)))
    return sorted(one for place in chosen for one in by_place[place][:MOST_OF_A_PLACE])


def _one_visit(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """All of one building on one day, some of what it has on other days, and a few sessions more."""
    everything = _all_movable(state)
    if not everything:
        return []
    day, node = everything[rng.randrange(len(everything))]
    place = state.model.days[day].nodes[node].place
    there = [one for one in everything if state.model.days[one[0]].nodes[one[1]].place == place]
    others = [one for one in there if one[0] != day][: rng.randint(0, 4)]
    return sorted({*(one for one in there if one[0] == day), *others, *_few_anywhere(state, rng)[:3]})


def _one_time_of_day(state: WeekState, rng: random.Random) -> list[tuple[int, int]]:
    """Everything that touches two hours of the day, on three days."""
    everything = _all_movable(state)
    if not everything:
        return []
    day, node = everything[rng.randrange(len(everything))]
    begin = state.model.days[day].nodes[node].start - 60
    days = set(rng.sample(range(len(state.routes)), min(3, len(state.routes)))) | {day}
    return [
        (d, n) for d, n in everything if d in days and begin <= state.model.days[d].nodes[n].start <= begin + 120
    ]


REMOVALS: tuple[Removal, ...] = (
    _few_anywhere,
    _two_days,
    _one_place,
    _one_time_of_day,
)
BY_VISITS: tuple[Removal, ...] = (*REMOVALS, _one_visit, _two_places)
"""Whole visits change days: for weeks in which the others find nothing more."""
