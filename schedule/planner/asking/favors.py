"""What to ask for: single favors that would place more or save driving, each granted, solved again and priced.

First the best week without any favor. Then quick probes (``favor_probes``) of every favor, and the week solved
again for those that promise most. Favors of one place are also granted all at once: where not even that gives
anything, proved, none of them does; where it gives something, those that the week uses are solved one by one.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from schedule.planner.asking.favor_kinds import Favor, Moment, Movables, favors_of
from schedule.planner.asking.favor_order import turns_of_kinds
from schedule.planner.asking.favor_search import FavorSearch, JudgedWeek, Tell
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import GoalFigures, Itinerary

MOST_SOLVED = 40
MOST_SECONDS = 120.0
QUICK_SHARE = 0.05
"""A week planned in less of the time than this is small enough to try all favors at once."""


@dataclass(frozen=True, slots=True)
class PricedFavor:
    """A favor that was granted and solved again, beside the best week without it.

    ``minutes_placed``: owed minutes more (times the weight of their services); ``wishes_met``: minutes less that
    the contract's wishes miss; ``drive_saved``: minutes less at the wheel, negative where placing more costs some.
    ``proved``: both weeks are the best there are, so the difference is exact. Each was found as a week that the
    judge has passed, so where only the week without it is proved best, the favor gives at least this much.
    """

    favor: Favor
    minutes_placed: int
    wishes_met: int
    drive_saved: int
    everything_fits: bool
    proved: bool
    text: str

    @property
    def worth(self) -> tuple[int, int, int]:
        """More is better: what is placed, then what is wished, then driving."""
        return self.minutes_placed, self.wishes_met, self.drive_saved


@dataclass(frozen=True, slots=True)
class Favors:
    """Favors that would help, the best first.

    ``base`` is the best week known without a favor, ``base_proved`` says that there is no better one, ``base_near``
    that none drives less by more than 2 %: where neither is known, nothing is priced. ``at_hand``: the figures of
    the week that was asked about. Of those ``possible``, ``tried`` were solved one by one, and of
    ``dismissed`` more it was proved that none gives anything. ``stopped``: some were not decided in the time.
    """

    base: GoalFigures | None
    priced: tuple[PricedFavor, ...]
    possible: int
    tried: int
    stopped: bool
    dismissed: int = 0
    base_proved: bool = False
    base_near: bool = False
    at_hand: GoalFigures | None = None

    @property
    def replanning(self) -> tuple[int, int, int] | None:
        """What planning again gives by itself, as ``Priced.worth``; ``None`` where no week was asked about."""
        if self.base is None or self.at_hand is None:
            return None
        one, other = self.at_hand, self.base
        return one.unplaced - other.unplaced, one.wishes - other.wishes, one.driving - other.driving

    def best_of_places(self) -> tuple[PricedFavor, ...]:
        """The one favor worth the most from each place, the best first."""
        found: dict[str, PricedFavor] = {}
        for one in self.priced:
            found.setdefault(one.favor.place, one)
        return tuple(one for place, one in found.items() if place)


def find_favors(
    problem: Problem,
    *,
    movables: Movables | None = None,
    moment: Moment | None = None,
    known: Itinerary | None = None,
    seed: int = 0,
    most_solved: int = MOST_SOLVED,
    time_limit: float = MOST_SECONDS,
    workers: int = 2,
    progress: Tell | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Favors:
    """The single favors that better the week, with their prices. ``known`` is a plan of it that there is already.

    At most ``most_solved`` problems are solved beside the week itself, within ``time_limit`` seconds in all;
    ``progress(done, of, found)`` is called as it goes, ``stop()`` ends with those found so far.
    """
    asked = _only_to_driving(problem)
    favors = favors_of(asked, movables, moment)
    search = FavorSearch(asked, favors, seed, workers, most_solved, time_limit, monotonic, stop, progress)
    search.began = monotonic()
    search.find_base(known)
    if search.base is None:
        return Favors(None, (), len(favors), 0, True)
    quick = monotonic() - search.began < QUICK_SHARE * time_limit
    search.said()
    if search.base.settled:
        _try_all(search, small=quick)
    at_hand = search.retimed(known) if known is not None else None
    return _answer(search, at_hand.figures if at_hand is not None else None)


def _try_all(search: FavorSearch, *, small: bool) -> None:
    order = search.probe_all()
    search.solve_helpful(order, small=small)
    search.solve_excused(order)
    search.solve_bundles(order, small=small)
    search.solve_moved(order)


def _answer(search: FavorSearch, at_hand: GoalFigures | None) -> Favors:
    base = search.base
    if base is None:
        raise ValueError("There is no week to hold favors against.")
    weeks = search.weeks if base.settled else {}
    helpful = [(search.rank(week.figures), favor) for favor, week in weeks.items() if search.helps(favor)]
    helpful.sort(key=lambda one: (one[0], one[1].what))
    places = turns_of_kinds([favor for _, favor in helpful])
    turns = sorted(zip(helpful, places, strict=True), key=lambda one: (one[0][0], one[1]))
    priced = [price(favor, base, search.weeks[favor]) for (_, favor), _ in turns]
    undecided = len(search.favors) - len(search.tried) - len(search.dismissed - search.tried)
    return Favors(
        base=base.figures,
        priced=tuple(priced),
        possible=len(search.favors),
        tried=len(search.tried),
        stopped=search.halted or undecided > 0,
        dismissed=len(search.dismissed - search.tried),
        base_proved=base.proved,
        base_near=base.settled,
        at_hand=at_hand,
    )


def _only_to_driving(problem: Problem) -> Problem:
    """The goals up to driving, in the problem's order: what comes after has no price in minutes."""
    goals = problem.goals
    last = goals.index(Goal.DRIVING) if Goal.DRIVING in goals else 0
    kept = tuple(goal for goal in goals[: last + 1] if goal not in {Goal.CHANGE, Goal.SAMENESS})
    return replace(problem, goals=kept if Goal.DRIVING in kept else (*kept, Goal.DRIVING), current=None)


# ---- the price -------------------------------------------------------------------------------------------


def price(favor: Favor, base: JudgedWeek, week: JudgedWeek) -> PricedFavor:
    """What the favor gives against the week without it."""
    minutes = base.figures.unplaced - week.figures.unplaced
    wishes = base.figures.wishes - week.figures.wishes
    driving = base.figures.driving - week.figures.driving
    fits = minutes > 0 and week.figures.unplaced == 0
    proved = base.proved and week.proved
    # A week found with the favor is there, and a better one can only give more. What there is without the favor is
    # known only where that week is proved.
    gain, cost = ("exactly", "exactly") if proved else ("at least", "at most") if base.proved else ("", "")
    effects = _effects(minutes, wishes, driving, fits, gain, cost)
    perhaps = "" if base.proved else "perhaps "
    return PricedFavor(favor, minutes, wishes, driving, fits, proved, f"{favor.what}: {perhaps}{effects}.")


def _effects(minutes: int, wishes: int, driving: int, fits: bool, gain: str, cost: str) -> str:
    """What it gives and what that costs. ``gain``, ``cost``: how sure the minutes are of either."""
    parts: list[str] = []
    if fits:
        parts.append("everything fits")
    elif minutes > 0:
        parts.append(f"{_of(minutes, gain)} more of what is owed are placed")
    if wishes > 0:
        parts.append(f"the contract's wishes are met by {_of(wishes, gain)} more")
    if wishes < 0:
        parts.append(f"the contract's wishes are missed by {_of(-wishes, cost)} more")
    if driving > 0:
        parts.append(f"{_of(driving, gain)} of driving less a week")
    if driving < 0:
        parts.append(f"with {_of(-driving, cost)} of driving more")
    return ", ".join(parts)


def _of(minutes: int, surely: str) -> str:
    count = "1 minute" if minutes == 1 else f"{minutes} minutes"
    return f"{surely} {count}" if surely else count
