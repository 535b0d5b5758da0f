"""A rough week made exact: each day's sessions put at bells, around lunch, in the planner's own day model.

The rough week says which sessions are held on which day and in which order buildings are visited. Here each gets
its minute. Whether a day then holds, and what it drives and misses, is asked of the planner (``WeekState``), and
what the planner's judge counts is the price.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from schedule.planner.check import check
from schedule.planner.days import Day
from schedule.planner.problem import Problem
from schedule.planner.result import GoalFigures, Itinerary
from schedule.planner.week.construct import fill
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import Model
from schedule.planner.week.routes import plan_of
from schedule.planner.week.state import WeekState

MOST_ORDERS = 24
"""Orders of a day's buildings that are tried, least driving first."""

TOO_LATE = 1 << 20
"""A minute after all days."""

type Visit = tuple[str, int]
"""A service and the minute at which a session of it begins."""


@dataclass(frozen=True, slots=True)
class RoughDay:
    """Buildings in turn, and the services that have a session that day."""

    stops: tuple[str, ...]
    services: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimedWeek:
    """The week with the judge's figures."""

    plan: Itinerary
    figures: GoalFigures


class Timing:
    """Times rough weeks of one problem; what it is laid out in is made once."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model: Model = build_model(problem)
        self.place = {one.id: one.starts[0].place for one in problem.services if one.starts}
        self.nodes = [
            {(node.unit, node.start): number for number, node in enumerate(day.nodes) if node.session}
            for day in self.model.days
        ]
        # Of what can be held alone: a start under a meeting is no node of the day.
        self.starts = [
            {one.id: sorted(at for unit, at in nodes if unit == one.id) for one in problem.services}
            for nodes in self.nodes
        ]

    def week(self, days: Sequence[RoughDay]) -> TimedWeek | None:
        """The rough week timed; sessions without a time are put where the planner finds room. ``None``: no week.

        That is where blocks and lunch can't be kept even with nobody to see.
        """
        state = WeekState(self.model)
        if state.broken_days:
            return None
        for index, day in enumerate(days):
            for service, at in self._timed(index, day):
                option = state.option(index, self.nodes[index][service, at])
                if option is not None:
                    state.put(option)
        if any(state.missing(service) for service in range(len(self.problem.services))):
            fill(state, regret=True)
        plan = plan_of(self.model, state.routes)
        verdict = check(self.problem, plan)
        return TimedWeek(plan, verdict.figures) if verdict.holds else None

    def _timed(self, index: int, day: RoughDay) -> list[Visit]:
        """The sessions with their minutes; as many as possible in the best order where not all fit."""
        best: list[Visit] = []
        for stops in self._orders(self.problem.days[index], day.stops):
            for lunch in range(len(day.services) + 1):
                found = self._run(index, stops, day.services, lunch)
                if len(found) == len(day.services):
                    return found
                best = max(best, found, key=len)
        return best

    def _orders(self, day: Day, stops: tuple[str, ...]) -> list[tuple[str, ...]]:
        """The order given, then others by driving."""
        if len(stops) > 4:
            return [stops]
        others = sorted(permutations(stops), key=lambda order: self._driving(day, order))
        return [stops, *others[:MOST_ORDERS]]

    def _driving(self, day: Day, order: Iterable[str]) -> int:
        way = [day.start_place, *order, day.end_place]
        return sum(self.problem.drive(a, b) for a, b in pairwise(way))

    def _run(self, index: int, stops: tuple[str, ...], services: Sequence[str], lunch: int) -> list[Visit]:
        """Sessions as early as they can be, lunch after so many of them; up to the first that comes too late."""
        day, done = self.problem.days[index], list[Visit]()
        here, clock, hungry = day.start_place, day.start, day.lunch is not None
        for stop in stops:
            left = [one for one in services if self.place[one] == stop]
            for _ in range(len(left)):
                leg, here = self.problem.leg_minutes(here, stop), stop
                if hungry and len(done) == lunch:
                    clock, hungry = _after_lunch(day, clock, leg), False
                else:
                    clock += leg
                turn = self._next(index, left, clock)
                if turn is None:
                    return done
                done.append(turn)
                left.remove(turn[0])
                clock = turn[1] + self.problem.unit(turn[0]).minutes
        leg = self.problem.leg_minutes(here, day.end_place)
        ends = _after_lunch(day, clock, leg) if hungry else clock + leg
        return done if ends <= day.end else done[:-1]

    def _next(self, index: int, left: Sequence[str], clock: int) -> Visit | None:
        options = [(one, at) for one in left if (at := self._begin(index, one, clock)) is not None]
        if not options:
            return None
        return min(options, key=lambda one: self._rank(index, one))

    def _begin(self, index: int, service: str, clock: int) -> int | None:
        return next((at for at in self.starts[index][service] if at >= clock), None)

    def _rank(self, index: int, visit: Visit) -> tuple[int, int, str]:
        """When the next session could begin after this one, then the longer one."""
        unit = self.problem.unit(visit[0])
        ends = visit[1] + unit.minutes
        again = self._begin(index, visit[0], ends)
        return (ends if again is None else again) - unit.minutes, -unit.minutes, visit[0]


def _after_lunch(day: Day, clock: int, leg: int) -> int:
    """When a leg with lunch after or else before it is over; ``TOO_LATE`` where neither is in time."""
    lunch = day.lunch
    if lunch is None:
        return clock + leg
    after = max(clock + leg, lunch.earliest) + lunch.minutes
    if after <= lunch.latest_end:
        return after
    before = max(clock, lunch.earliest) + lunch.minutes
    return before + leg if before <= lunch.latest_end else TOO_LATE
