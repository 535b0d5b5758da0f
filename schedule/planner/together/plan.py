"""Several teachers' weeks as one: least over all in each goal, exact for small parties, by turns for large ones.

*A bound.* Each week planned as if nobody else were there is no worse than its week in any plan of all: the sum of
these own optima, goal by goal, bounds the sum of all (a relaxation that drops the shared things).

*Exact.* Where the own optima clash (a student with two teachers at 9:00), no plan of all holds both at that minute:
so one of the two isn't with the student then, and each case is a smaller question, in which only that one's week is
planned again. The open case with the least bound is taken first; the first one without a clash is best of all. That
is conflict-based search (G. Sharon, R. Stern, A. Felner, N. Sturtevant, 2015, Artificial Intelligence 219), with
whole weeks for paths and minutes of things for cells. Each week's own proof is the planner's.

*One session of two.* Where two members' weeks hold too few sessions as one, each case pins both at a start
that they have in common. Where they meet in a student without being one, being one there is a case, too.

*By turns.* A week after the other is planned around those before it, in several orders, then each once more around
all others until a whole round betters nothing. That gives the exact search something to beat, and is what is left
where it has to end early.
"""

import heapq
import itertools
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Goal, Problem
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Ended, GoalFigures, Itinerary, Result, Status
from schedule.planner.solve import JudgeError, solve
from schedule.planner.together.clashes import SharedClash, full_times, shared_clashes
from schedule.planner.together.joint import (
    Pinned,
    around_others,
    first_missing,
    narrowed,
    pinned_with,
    ways_to_be_one,
    with_pins,
)
from schedule.planner.together.judge import judge_together
from schedule.planner.together.shared import JointUnit, Member, Party, around, without_starts

MOST_NODES = 200
MOST_ORDERS = 6
MOST_ROUNDS = 4

type Ask = Callable[[Problem, Itinerary | None], Result]
"""Plans one week, from another plan of it if there is one."""
type Tell = Callable[[str], None]
"""Is told in a sentence what is done at the moment."""
type Figures = tuple[int, ...]
type Barred = frozenset[tuple[str, str, int]]  # things that a member doesn't have at a minute of a day


@dataclass(frozen=True, slots=True)
class GaveWay:
    """Who has a thing that several wanted at a minute, and who doesn't; by member ids."""

    clash: SharedClash
    kept: tuple[str, ...]
    gave: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TogetherResult:
    """Weeks that hold together. ``own``: the figures of each week as if nobody else were there.

    ``value`` and ``bound`` are sums over all members by ``Party.goals``: no plan of all is below the bound,
    compared goal by goal. ``proved``: they are equal. ``cases``: how many the exact search looked at.
    """

    weeks: Mapping[str, Result]
    own: Mapping[str, GoalFigures]
    value: Figures
    bound: Figures
    gave_way: tuple[GaveWay, ...]
    ended: Ended
    cases: int = 0

    @property
    def proved(self) -> bool:
        """Whether no weeks are better over all."""
        return self.value == self.bound


class ApartError(ValueError):
    """A member for whom there is no week, or none was found in time; ``member`` is its id."""

    def __init__(self, member: str, message: str) -> None:
        super().__init__(message)
        self.member = member


@dataclass(frozen=True, slots=True)
class _Week:
    """One member's week: its figures and a true lower bound of them, in the order of the goals."""

    plan: Itinerary
    value: Figures
    bound: Figures


@dataclass(frozen=True, slots=True)
class _Case:
    weeks: Mapping[str, _Week]
    barred: Mapping[str, Barred]
    pins: Mapping[str, Pinned] = field(default_factory=dict)

    @property
    def plans(self) -> dict[str, Itinerary]:
        return {member: week.plan for member, week in self.weeks.items()}

    @property
    def value(self) -> Figures:
        return _sum(week.value for week in self.weeks.values())

    @property
    def bound(self) -> Figures:
        """The sum of the members' bounds, as far as each is known: goals after one that isn't count as 0."""
        value, bound = self.value, _sum(week.bound for week in self.weeks.values())
        known = next((n for n, pair in enumerate(zip(value, bound, strict=True)) if pair[0] != pair[1]), len(value))
        return tuple(one if n <= known else 0 for n, one in enumerate(bound))


def plan_together(
    party: Party,
    *,
    seed: int = 0,
    effort: float = 10.0,
    time_limit: float = 600.0,
    most_cases: int = MOST_NODES,
    tell: Tell = lambda message: None,
    stop: Callable[[], bool] = lambda: False,
    monotonic: Callable[[], float] = time.monotonic,
) -> TogetherResult:
    """Plan all members' weeks. ``effort``: seconds of work a week each time it is planned; ``time_limit`` for all.

    Where the clock, ``stop`` or ``most_cases`` ends the exact search, the best weeks so far are given with the
    bound that is left. Raises ``ApartError`` for a member who has no week even alone, or where no weeks
    were found that hold beside one another; ``JudgeError`` if the judges refuse what was found.
    """
    began = monotonic()

    def ask(problem: Problem, begun: Itinerary | None) -> Result:
        left = max(1.0, time_limit - (monotonic() - began))
        return solve(
            problem, seed=seed, effort=effort, time_limit=min(3 * effort, left), begun=begun, monotonic=monotonic
        )

    party = replace(party, members=tuple(_beside_outside(party, one) for one in party.members))
    search = _Search(narrowed(party), ask, tell, lambda: stop() or monotonic() - began > time_limit, most_cases)
    return search.run()


def _beside_outside(party: Party, member: Member) -> Member:
    """A member without the starts at which somebody outside leaves no room."""
    try:
        return replace(member, problem=around(member, full_times(party, {}, member.id)))
    except ProblemError as error:
        raise ApartError(member.id, f"A session of {member.name} is pinned where others have the space.") from error


@dataclass(slots=True)
class _Search:
    party: Party
    ask: Ask
    tell: Tell
    late: Callable[[], bool]
    most_cases: int
    known: dict[tuple[str, Barred, Pinned], _Week | None] = field(default_factory=dict)
    cases: int = 0
    ended: Ended = Ended.PROOF
    is_lost: bool = False
    """Whether a week may exist that wasn't found in time: the cases then say nothing of a bound."""

    def run(self) -> TogetherResult:
        root = self._root()
        clashes = shared_clashes(self.party, root.plans)
        best = root if self._holds(root) else self._by_turns(root)
        best, bound = self._exact(root, best)
        if best is None:
            raise ApartError("", "No weeks were found that hold beside one another.")
        results = self._settled(best)
        plans = {member: result.plan for member, result in results.items() if result.plan is not None}
        broken = judge_together(self.party, plans)
        if broken:
            raise JudgeError(" ".join(one.text for one in broken[:3]))
        own = {one.id: _figures(root.weeks[one.id], self.party.goals) for one in self.party.members}
        value = _sum(
            result.figures.in_order(self.party.goals) for result in results.values() if result.figures is not None
        )
        gave = tuple(_gave_way(self.party, clashes, plans))
        return TogetherResult(results, own, value, min(value, bound), gave, self.ended, self.cases)

    def _holds(self, case: _Case) -> bool:
        """Whether the weeks hold beside one another."""
        return first_missing(self.party, case.plans) is None and not shared_clashes(self.party, case.plans)

    # ---- one week at a time ----------------------------------------------------------------------------------

    def _root(self) -> _Case:
        weeks: dict[str, _Week] = {}
        for member in self.party.members:
            self.tell(f"Planning {member.name} alone.")
            week = self._alone(member, frozenset())
            if week is None:
                raise ApartError(member.id, f"There is no week for {member.name}, even without the others.")
            weeks[member.id] = week
        return _Case(weeks, {member.id: frozenset() for member in self.party.members})

    def _alone(self, member: Member, barred: Barred, pins: Pinned = frozenset()) -> _Week | None:
        key = member.id, barred, pins
        if key not in self.known:
            self.known[key] = self._solved(lambda: with_pins(without_starts(member, barred), pins))
        return self.known[key]

    def _around(self, member: Member, weeks: Mapping[str, _Week]) -> _Week | None:
        plans = {other: week.plan for other, week in weeks.items()}
        return self._solved(lambda: around_others(self.party, member, plans))

    def _solved(self, made: Callable[[], Problem]) -> _Week | None:
        try:
            problem = made()
        except ProblemError:
            return None  # A pin has lost its start: there is no such week.
        result = self.ask(replace(problem, goals=self.party.goals), None)
        if result.plan is None or result.figures is None:
            if result.status is not Status.INFEASIBLE:
                self.ended, self.is_lost = Ended.CLOCK, True
            return None
        return _Week(result.plan, result.figures.in_order(self.party.goals), _bound(result))

    # ---- by turns --------------------------------------------------------------------------------------------

    def _by_turns(self, root: _Case) -> _Case | None:
        best: _Case | None = None
        for order in self._orders():
            if best is not None and self.late():
                break
            found = self._in_turn(root, order)
            if found is not None and (best is None or found.value < best.value):
                best = found
        return best

    def _orders(self) -> Iterator[tuple[Member, ...]]:
        """Whoever has least to choose from first, then each other one first, then the other way round."""
        rising = sorted(self.party.members, key=lambda one: (_choice(one.problem), one.id))
        turned = [(one, *(other for other in rising if other is not one)) for one in rising]
        yield from [*turned, tuple(reversed(rising))][:MOST_ORDERS]

    def _in_turn(self, root: _Case, order: Iterable[Member]) -> _Case | None:
        weeks: dict[str, _Week] = {}
        members = tuple(order)
        for member in members:
            whom = f" around {self._names(weeks)}" if weeks else ""
            self.tell(f"{member.name} has a turn{whom}.")
            week = self._around(member, weeks) if weeks else root.weeks[member.id]
            if week is None:
                return None
            weeks[member.id] = week
        return self._bettered(_Case(weeks, root.barred), members)

    def _bettered(self, case: _Case, order: tuple[Member, ...]) -> _Case:
        for _ in range(MOST_ROUNDS):
            before = case.value
            for member in order:
                if self.late():
                    return case
                again = self._around(member, case.weeks)
                if again is not None and again.value < case.weeks[member.id].value:
                    case = replace(case, weeks={**case.weeks, member.id: again})
            if case.value >= before:
                break
        return case

    def _names(self, ids: Iterable[str]) -> str:
        known = set(ids)
        return ", ".join(one.name for one in self.party.members if one.id in known)

    # ---- exact -----------------------------------------------------------------------------------------------

    def _exact(self, root: _Case, best: _Case | None) -> tuple[_Case | None, Figures]:
        """The best case, and a bound for all."""
        numbers = itertools.count(-1, -1)  # Of cases with one bound the newest is looked at first.
        waiting = [(root.bound, 0, root)]
        unproved: list[Figures] = []
        while waiting and self._is_better(waiting[0][0], best) and not self._over():
            bound, _, case = heapq.heappop(waiting)
            self.cases += 1
            children = self._children(case)
            for child in children or ():
                heapq.heappush(waiting, (max(bound, child.bound), next(numbers), child))
            if children is None:
                best = case if self._is_better(case.value, best) else best
                unproved.extend([bound] * (case.value != bound))
        return best, self._left(root, best, [bound for bound, *_ in waiting[:1]], unproved)

    def _is_better(self, figures: Figures, best: _Case | None) -> bool:
        return best is None or figures < best.value

    def _over(self) -> bool:
        """Whether no case more may be looked at."""
        if self.cases >= self.most_cases:
            self.ended = Ended.NODES
            return True
        if self.late():
            self.ended = Ended.CLOCK
            return True
        return False

    def _left(self, root: _Case, best: _Case | None, waiting: list[Figures], unproved: list[Figures]) -> Figures:
        """What no weeks are below: the best, what waits, and cases of which the last word isn't said."""
        if unproved and self.ended is Ended.PROOF:
            self.ended = Ended.EFFORT
        known = [*waiting, *unproved, *([best.value] if best is not None else [])]
        return root.bound if self.is_lost else min(known, default=root.bound)

    def _children(self, case: _Case) -> Iterator[_Case] | None:
        """The cases of the first thing that doesn't hold; ``None`` where the weeks hold beside one another."""
        missing = first_missing(self.party, case.plans)
        if missing is not None:
            return self._as_one(case, missing)
        clashes = shared_clashes(self.party, case.plans)
        return self._apart(case, clashes[0]) if clashes else None

    def _as_one(self, case: _Case, joint: JointUnit, covering: tuple[str, int] | None = None) -> Iterator[_Case]:
        """One more session of two members is one."""
        self.tell(f"Case {self.cases}: when do {self._names([joint.one, joint.other])} meet?")
        for pair in ways_to_be_one(self.party, joint, case.pins, covering):
            pins = {**case.pins, **dict(pinned_with(case.pins, joint, pair))}
            weeks = {
                who: self._alone(self.party.member(who), case.barred[who], pins[who])
                for who in (joint.one, joint.other)
            }
            found = {who: week for who, week in weeks.items() if week is not None}
            if len(found) == len(weeks):
                yield _Case({**case.weeks, **found}, case.barred, pins)

    def _apart(self, case: _Case, clash: SharedClash) -> Iterator[_Case]:
        """One of those who have a thing at a minute doesn't, or two of them have it as one."""
        for joint in self.party.joint:
            if joint.one in clash.members and joint.other in clash.members:
                yield from self._as_one(case, joint, (clash.day, clash.minute))
        self.tell(f"Case {self.cases}: who has {self.party.name(clash.key)}?")
        for member in self.party.members:
            if member.id in clash.members:
                barred = case.barred[member.id] | {(clash.key, clash.day, clash.minute)}
                week = self._alone(member, barred, case.pins.get(member.id, frozenset()))
                if week is not None:
                    yield _Case({**case.weeks, member.id: week}, {**case.barred, member.id: barred}, case.pins)

    # ---- at the end ------------------------------------------------------------------------------------------

    def _settled(self, best: _Case) -> dict[str, Result]:
        """Each week once more around all others, with every goal of its own."""
        plans, found = best.plans, dict[str, Result]()
        for member in self.party.members:
            self.tell(f"Settling {member.name}.")
            problem = around_others(self.party, member, plans)
            result = self.ask(problem, plans[member.id])
            if result.plan is None:
                raise ApartError(member.id, f"The week of {member.name} could not be settled in time.")
            found[member.id], plans[member.id] = result, result.plan
        return found


def _bound(result: Result) -> Figures:
    """What is known of each goal: up to the first that isn't proved, nothing after it."""
    found: list[int] = []
    is_known = True
    for stage in result.stages:
        found.append(stage.bound if is_known else 0)
        is_known = is_known and stage.status is Status.OPTIMAL
    return tuple(found)


def _sum(figures: Iterable[Figures]) -> Figures:
    return tuple(sum(several) for several in zip(*figures, strict=True))


def _choice(problem: Problem) -> float:
    """Starts for each session owed."""
    starts = sum(len(problem.starts_of(one.id)) for one in problem.services if one.sessions)
    return starts / max(1, sum(one.sessions for one in problem.services))


def _figures(week: _Week, goals: tuple[Goal, ...]) -> GoalFigures:
    values = {goal.value: value for goal, value in zip(goals, week.value, strict=True)}
    return GoalFigures(**{goal.value: values.get(goal.value, 0) for goal in Goal})


def _gave_way(party: Party, clashes: Iterable[SharedClash], plans: Mapping[str, Itinerary]) -> Iterator[GaveWay]:
    """Of all that the own optima wanted at once, who has it in the end."""
    held = {
        one.id: full_times(replace(party, members=(one,), taken=(), room={}), plans, "") for one in party.members
    }
    for clash in clashes:
        spans = {who: held[who].get((clash.key, clash.day), []) for who in clash.members}
        kept = tuple(who for who in clash.members if any(a <= clash.minute < b for a, b in spans[who]))
        yield GaveWay(clash, kept, tuple(who for who in clash.members if who not in kept))
