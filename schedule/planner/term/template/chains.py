"""The compiled search for a standing timetable, run in several chains, each measured in sessions tried.

Every chain has its own chance; the best of them goes on for the other half of the work. How much is tried decides,
and not the clock, so that the same seed and number of chains give the same timetable.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np

from schedule.planner.proving.labels import Floats, Ints
from schedule.planner.solve import JudgeError
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.template.anneal import HALT, TO_TRY, TRIED, anneal, copy_weeks
from schedule.planner.term.template.board import TermBoard
from schedule.planner.term.template.ruin import HeldWeeks
from schedule.planner.term.term import StandingSession
from schedule.planner.week.routes import Route, best_route
from schedule.planner.week.state import WeekState
from schedule.planner.week.work import UNITS_A_SECOND

LOOK = 1_500
"""Units of work (``week.work``) of trying one session on one day."""

CHAINS = 2
FIRST_HALF = 0.5
ENOUGH = 700
"""Sessions to try, times the third power of how many stand: more has not been seen to help."""

type Heats = tuple[tuple[float, float], tuple[float, float]]

HEATS: Heats = (0.8, 0.06), (0.4, 0.03)
"""Minutes of driving a week by which a worse term may be taken, in the first half and in the second."""

LOW: Heats = (0.2, 0.03), (0.1, 0.02)
"""The same where a good term is at hand: what it has is bettered and not laid out anew."""

POLL_SECONDS = 0.1


@dataclass(frozen=True, slots=True)
class Template:
    """The timetable found and the weeks that came with it, one for each kind; ``units`` of work that it took."""

    sessions: tuple[StandingSession, ...]
    weeks: tuple[WeekState, ...]
    units: int
    complete: bool


@dataclass(frozen=True, slots=True)
class Begun:
    """A timetable and the weeks made of it, one for each kind: where a search goes on from."""

    sessions: Sequence[StandingSession]
    weeks: Sequence[WeekState]

    def filled(self) -> Sequence[WeekState]:
        """The weeks as they are."""
        return self.weeks


@dataclass(slots=True)
class _Chain:
    board: TermBoard
    best: HeldWeeks
    current: HeldWeeks
    trial: HeldWeeks
    rng: Ints
    notes: Ints
    cost: int = 0

    def run(self, heat: Floats) -> None:
        """Try as many sessions as its notes say."""
        self.cost = anneal(self.board.board, self.best, self.current, self.trial, self.rng, self.notes, heat)

    def go_on_from(self, other: "_Chain") -> None:
        """Take over what another chain found."""
        copy_weeks(other.best, self.best)
        copy_weeks(other.best, self.current)


def find_template(
    kinds: Sequence[AlikeWeeks],
    starts: Sequence[TermState | Begun],
    *,
    worth: int,
    seed: int,
    workers: int,
    effort: float,
    remaining: Callable[[], float],
    heats: Heats = HEATS,
) -> Template:
    """The best timetable found from these starts in ``effort`` seconds of work; ``remaining()`` of 0 ends it."""
    chains = [_chain(kinds, starts[number % len(starts)], worth, seed, number) for number in range(CHAINS)]
    slots = len(starts[0].sessions)
    looks = min(int(effort * UNITS_A_SECOND / LOOK), ENOUGH * slots**3)
    weeks = sum(kind.count for kind in kinds)
    complete = _run(chains, int(FIRST_HALF * looks), heats[0], weeks, workers, remaining)
    best = min(chains, key=lambda one: one.cost)
    others = [one for one in chains if one is not best][: max(1, workers - 1)]
    for one in others:
        if one.board.board.slot_unit.tolist() == best.board.board.slot_unit.tolist():
            one.go_on_from(best)
    complete = complete and _run(
        [best, *others], looks - int(FIRST_HALF * looks), heats[1], weeks, workers, remaining
    )
    units = LOOK * sum(int(one.notes[TRIED]) for one in chains)
    best = min(chains, key=lambda one: one.cost)
    found = tuple(_week(best, number) for number in range(len(kinds)))
    return Template(tuple(best.board.sessions(best.best)), found, units, complete)


def _chain(kinds: Sequence[AlikeWeeks], start: TermState | Begun, worth: int, seed: int, number: int) -> _Chain:
    board, full = TermBoard(kinds, start.sessions, worth), start.filled()
    rng = np.array([(seed * CHAINS + number + 1) * 0x1E3779B97F4A7C15 & 0x7FFFFFFFFFFFFFFF], np.int64)
    notes = np.zeros(3, np.int64)
    return _Chain(board, board.read(full), board.read(full), board.read(full), rng, notes)


def _run(
    chains: Sequence[_Chain],
    looks: int,
    heat: tuple[float, float],
    weeks: int,
    workers: int,
    remaining: Callable[[], float],
) -> bool:
    """Let the chains share so many sessions tried; whether nobody ended it early. Only this thread asks."""
    for chain in chains:
        chain.notes[TO_TRY] = looks // len(chains)
    warmth = np.array(heat) * weeks
    with ThreadPoolExecutor(workers) as pool:
        under_way: set[Future[None]] = {pool.submit(chain.run, warmth) for chain in chains}
        while under_way:
            done, under_way = wait(under_way, POLL_SECONDS)
            for one in done:
                one.result()
            if under_way and remaining() <= 0:
                for chain in chains:
                    chain.notes[HALT] = 1
    return not any(chain.notes[HALT] for chain in chains)


def _week(chain: _Chain, number: int) -> WeekState:
    """One kind of week as the chain left it; ``JudgeError`` where it holds a day that breaks a rule."""
    kind = chain.board.kinds[number]
    state = kind.empty.copy()
    visits = chain.board.visits(chain.best, number)
    routes: list[Route] = []
    for day in kind.model.days:
        route = best_route(day, list(visits[day.index]))
        if route is None:
            raise JudgeError(f"The search for a timetable holds a day of the week of {kind.week.id} that can't be.")
        routes.append(route)
    state.load(routes)
    return state
