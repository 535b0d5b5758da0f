"""A timetable fitted to weeks that are planned: each session at the time that most of them hold.

Weeks made one after the other let stand what the first of them holds. Once all are there, a session can stand where
more weeks have it; then each is planned again, from what it is, as near as can be to that. Neither step lets more
sessions leave their time, so that doing both by turns comes to an end.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Problem
from schedule.planner.result import Itinerary
from schedule.planner.term.alike import units_of
from schedule.planner.term.departures import Moment, moments_of
from schedule.planner.term.expected import Expected, coming_in, first_of, standing_session
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession

MOST_ROUNDS = 40
"""Changes of a timetable for the students of one group of services; more has not been seen."""


@dataclass(slots=True)
class Vote:
    """The kinds of week of a term with a plan of each, on the days of that kind."""

    kinds: Sequence[AlikeWeeks]
    plans: Sequence[Itinerary]
    coming: dict[tuple[int, StandingSession], list[Expected]] = field(default_factory=dict)
    held: list[set[Moment]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.coming = {}
        self.held = [held_in(kind.week.problem, plan) for kind, plan in zip(self.kinds, self.plans, strict=True)]

    def fitted(self, sessions: Sequence[StandingSession]) -> tuple[StandingSession, ...]:
        """The timetable that fewest sessions of these weeks leave, found by changing one session at a time."""
        found = [replace(one, space=None) for one in sessions]
        for services in _joined(kind.week.problem for kind in self.kinds):
            mine = [one for one in found if self._members(one) & services]
            better = self._fitted(mine, services)
            if better != mine:
                found = [*(one for one in found if one not in mine), *better]
        return tuple(found)

    def _fitted(self, mine: list[StandingSession], services: frozenset[str]) -> list[StandingSession]:
        times = self._times(services)
        cost = self._cost(mine, services)
        for _ in range(MOST_ROUNDS):
            trials = [one for one in _changes(mine, times) if one != mine]
            costs = [self._cost(one, services) for one in trials]
            if not costs or min(costs) >= cost:
                break
            cost = min(costs)
            mine = trials[costs.index(cost)]
        return mine

    def _times(self, services: frozenset[str]) -> list[StandingSession]:
        """Where and when the weeks hold these services."""
        found = {
            replace(standing_session(kind.week.problem, one), space=None): None
            for kind, plan in zip(self.kinds, self.plans, strict=True)
            for one in plan.sessions
            if services.issuperset(kind.week.problem.members(one.unit))
        }
        return list(found)

    def _cost(self, mine: Sequence[StandingSession], services: frozenset[str]) -> int:
        """Sessions over the term that aren't at a standing time though their day is open, or have none."""
        return sum(kind.count * self._cost_in(number, mine, services) for number, kind in enumerate(self.kinds))

    def _cost_in(self, number: int, mine: Sequence[StandingSession], services: frozenset[str]) -> int:
        week = self.kinds[number].week
        problem = week.problem
        for one in mine:
            if (number, one) not in self.coming:
                self.coming[number, one] = coming_in(week, one) if problem.has_unit(one.unit) else []
        expected = first_of(problem, [self.coming[number, one] for one in mine])
        owed = sum(one.sessions for one in problem.services if one.id in services)
        nowhere = owed - sum(len(problem.members(one.standing.unit)) for one in expected)
        return away_from(problem, expected, self.held[number]) + nowhere

    def _members(self, session: StandingSession) -> set[str]:
        for kind in self.kinds:
            if kind.week.problem.has_unit(session.unit):
                return set(kind.week.problem.members(session.unit))
        return set()


def held_in(problem: Problem, plan: Itinerary) -> set[Moment]:
    """When and where a plan holds each service."""
    return {moment for one in plan.sessions for moment in moments_of(problem, one)}


def away_from(problem: Problem, expected: Iterable[Expected], held: set[Moment]) -> int:
    """How many sessions that could be held at their standing time aren't, in whatever company."""
    open_ones = (one.session for one in expected if one.open and one.session is not None)
    return sum(not held.issuperset(moments_of(problem, one)) for one in open_ones)


def _changes(mine: list[StandingSession], times: Iterable[StandingSession]) -> Iterator[list[StandingSession]]:
    """One session elsewhere, one less, or one more."""
    new = [one for one in times if one not in mine]
    for at in range(len(mine)):
        yield [*mine[:at], *mine[at + 1 :]]
        for other in new:
            yield [*mine[:at], other, *mine[at + 1 :]]
    for other in new:
        yield [*mine, other]


def _joined(problems: Iterable[Problem]) -> list[frozenset[str]]:
    """Services that may meet in a group, those together who are joined by one or more groups."""
    beside: dict[str, set[str]] = defaultdict(set)
    for problem in problems:
        for unit in units_of(problem):
            members = problem.members(unit.id)
            for member in members:
                beside[member].update(members)
    found: list[frozenset[str]] = []
    left = Counter(beside)
    while left:
        reached, open_ones = set[str](), [min(left)]
        while open_ones:
            one = open_ones.pop()
            if one not in reached:
                reached.add(one)
                open_ones.extend(beside[one])
        for one in reached:
            del left[one]
        found.append(frozenset(reached))
    return found
