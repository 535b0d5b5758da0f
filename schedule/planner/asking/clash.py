"""Which rules together keep owed minutes from being placed: a set from which none can be left out.

The rules about one service are named and can each be lifted from the problem. A deletion filter (Chinneck and
Dravnieks 1991) tries one after the other: whatever can be lifted while the session still doesn't fit has no part
in the clash. What is left is irreducible: none of it can be left out. Coarse rules ("the sessions at North School")
are then split into their parts and filtered again. In the time left a smallest set is sought (``smallest``).
"""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.asking.rules import Rule, rules_about, service_of
from schedule.planner.asking.smallest import smallest_clash
from schedule.planner.problem import Goal, Problem
from schedule.planner.result import Itinerary, Result, Status, sessions_of_services
from schedule.planner.solve import solve

MOST_SOLVES = 150
SECONDS_A_SOLVE = 2.0
LEAST_SECONDS = 1.5
MOST_SECONDS = 6.0


@dataclass(frozen=True, slots=True)
class Clash:
    """Why one more session of a service doesn't fit.

    ``complete``: every rule of the set was tried and none can be left out. Otherwise the search ended early and
    the set may hold rules that have no part in it. ``smallest``: no smaller set of rules clashes, proved.
    ``solves`` counts the problems solved for it.
    """

    service: str
    rules: tuple[Rule, ...]
    complete: bool
    solves: int
    sentence: str
    smallest: bool = False

    @property
    def ask(self) -> tuple[str, ...]:
        """Whom it would help to ask, each once."""
        return tuple(dict.fromkeys(rule.ask for rule in self.rules if rule.ask))


@dataclass(slots=True)
class _Trials:
    """Solves relaxed problems for the first goal alone, within a budget."""

    focus: Problem
    seed: int
    until: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None
    left: int
    solves: int = 0
    fits: list[tuple[Rule, ...]] = field(default_factory=list)
    """What was lifted each time that the session then fitted."""

    def clashes(self, lifted: Iterable[Rule], longest: float = SECONDS_A_SOLVE) -> bool | None:
        """Whether the session still doesn't fit without these rules; ``None`` where that isn't known."""
        seconds = min(longest, self.until - self.monotonic())
        if self.left <= 0 or seconds <= 0 or (self.stop is not None and self.stop()):
            return None
        self.left -= 1
        self.solves += 1
        problem, gone = self.focus, tuple(lifted)
        for rule in gone:
            problem = rule.lift(problem)
        result = solve(problem, seed=self.seed, time_limit=seconds, workers=1, stop=self.stop)
        answer = _answer(result)
        if answer is False:
            self.fits.append(gone)
        return answer


def _answer(result: Result) -> bool | None:
    """Whether something is left out for certain; ``None`` where that isn't proved."""
    if result.figures is None:
        return True if result.status is Status.INFEASIBLE else None
    if result.figures.unplaced == 0:
        return False
    return True if result.stages[0].status is Status.OPTIMAL else None


def clash_of(
    problem: Problem,
    plan: Itinerary,
    service_id: str,
    *,
    seed: int = 0,
    most_solves: int = MOST_SOLVES,
    time_limit: float = MOST_SECONDS,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Clash | None:
    """The rules that keep one more session of the service out of the plan, all its other sessions being owed.

    ``None`` where that isn't so, or couldn't be proved within the limits (seconds and problems solved). Raises
    ``KeyError`` if the service is unknown.
    """
    focus = focused(problem, plan, service_id)
    trials = _Trials(focus, seed, monotonic() + time_limit, monotonic, stop, most_solves)
    if trials.clashes((), time_limit / 2) is not True:
        return None
    rules = rules_about(focus, service_id)
    kept, lifted, complete = _filtered(trials, rules, ())
    if complete and any(rule.parts for rule in kept):
        finer = [part for rule in kept for part in (rule.parts or (rule,))]
        kept, lifted, complete = _filtered(trials, finer, lifted)
    smallest = False
    if complete:
        kept, smallest = _smallest(trials, rules, kept)
    sentence = _sentence(focus, service_id, kept, complete, smallest)
    return Clash(service_id, tuple(kept), complete, trials.solves, sentence, smallest)


def clashes_of(
    problem: Problem,
    plan: Itinerary,
    services: Sequence[str],
    *,
    seed: int = 0,
    time_limit: float = MOST_SECONDS,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> dict[str, Clash]:
    """The clashes of several services by id, one after the other within ``time_limit`` seconds in all.

    Services whose turn didn't come, or of which nothing could be proved, are left out.
    """
    until = monotonic() + time_limit
    found: dict[str, Clash] = {}
    for number, service in enumerate(services):
        left = until - monotonic()
        if left <= 0:
            break
        share = max(min(left, LEAST_SECONDS), left / (len(services) - number))
        clash = clash_of(problem, plan, service, seed=seed, time_limit=share, stop=stop, monotonic=monotonic)
        if clash is not None:
            found[service] = clash
    return found


def _filtered(
    trials: _Trials, rules: Sequence[Rule], lifted: tuple[Rule, ...]
) -> tuple[list[Rule], tuple[Rule, ...], bool]:
    """What is left of the rules, what was lifted, and whether every trial had an answer."""
    kept: list[Rule] = []
    complete = True
    for number, rule in enumerate(rules):
        answer = trials.clashes((*lifted, rule))
        if answer is None:
            return [*kept, *rules[number:]], lifted, False
        if answer:
            lifted = (*lifted, rule)
        else:
            kept.append(rule)
    return kept, lifted, complete


def _smallest(trials: _Trials, rules: Sequence[Rule], kept: Sequence[Rule]) -> tuple[list[Rule], bool]:
    """A smallest set of the finest rules that clash, and whether that is proved; else the one that is known."""
    finest = _finest(rules)
    numbers = {id(rule): number for number, rule in enumerate(finest)}
    everything = frozenset(numbers.values())

    def without(lifted: Iterable[Rule]) -> frozenset[int]:
        return everything - {numbers[id(part)] for part in _finest(lifted)}

    def clashes(some: frozenset[int]) -> bool | None:
        return trials.clashes(rule for number, rule in enumerate(finest) if number not in some)

    known = frozenset(numbers[id(rule)] for rule in kept)
    found, proved = smallest_clash(len(finest), clashes, known, [without(lifted) for lifted in trials.fits])
    return [rule for number, rule in enumerate(finest) if number in found], proved


def _finest(rules: Iterable[Rule]) -> list[Rule]:
    return [part for rule in rules for part in (rule.parts or (rule,))]


# ---- the question about one service ----------------------------------------------------------------------


def focused(problem: Problem, plan: Itinerary, service_id: str) -> Problem:
    """The problem in which what the plan holds is owed, and one session more of the service; nothing is wished."""
    covered = sessions_of_services(problem, plan.sessions)
    more = problem.unit(service_id)
    services = tuple(replace(one, sessions=len(covered[one.id]) + (one.id == more.id)) for one in problem.services)
    return replace(
        problem,
        services=services,
        goals=(Goal.UNPLACED,),
        current=None,
        preparation=None,
        longest_stretch=None,
        days=tuple(replace(day, preparation_minutes=0) for day in problem.days),
    )


# ---- in words --------------------------------------------------------------------------------------------


def _sentence(problem: Problem, service_id: str, rules: Sequence[Rule], complete: bool, smallest: bool) -> str:
    service = service_of(problem, service_id)
    opening = f"One more session of {service.minutes} minutes of {service.label or service.id}"
    if not rules:
        return f"{opening} fits nowhere: it has no start in these days, whatever else gives way."
    listed = "; ".join(rule.text for rule in rules)
    if not complete:
        return f"{opening} doesn't fit. The rules that clash are among these (the search ended early): {listed}."
    if len(rules) == 1:
        return f"{opening} is kept out by one thing alone: {listed}."
    which = "the smallest set that does" if smallest else "none of these can be left out"
    return f"{opening} is kept out by {len(rules)} things that clash with one another ({which}): {listed}."
