"""A week repaired: what its calendar leaves without a place goes elsewhere, and nothing else moves. Exact.

Where every open session stays, a day's route is cut into the gaps between its standing visits, and what is put into
one gap doesn't matter to the others. So there is a table over sets of services for each gap, then for each day,
then for the week (dynamic programming over subsets, Held and Karp 1962): some hundred times quicker than planning
the week, and the same week where no session has to leave its time. Lunch is seen; wishes are priced once a day's
visits are known.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from operator import itemgetter

from schedule.planner.term.expected import is_unusual
from schedule.planner.term.shared import WISH_MINUTE, AlikeWeeks
from schedule.planner.term.term import StandingSession
from schedule.planner.week.model import DayModel
from schedule.planner.week.routes import best_route
from schedule.planner.week.work import Work

MOST_MISSING = 10
"""Sessions without a place beyond which they aren't put anywhere, but charged for."""

JOIN, REACH, PRICED, ASKED = 10, 400, 8_000, 20_000
"""Units of work (``week.work``): two sets joined, a visit put into a gap, a day timed, a week asked about."""

type Sets = dict[int, tuple[int, tuple[int, ...]]]
"""By set of services (a bit each): the least that it adds to a day, and the visits that do."""

type Way = tuple[int, int, bool, tuple[int, ...]]
"""What goes into a gap: the set, minutes at the wheel more, whether lunch still fits, the visits."""

type Held = tuple[list[tuple[int, ...]], list[int], int]
"""Each day's visits; services still owed, each as often as it is; sessions that must leave an open time."""


@dataclass(frozen=True, slots=True)
class StayingWeek:
    """A week with what it holds of a timetable: each day's visits, services still owed, and what that costs."""

    visits: list[tuple[int, ...]]
    missing: list[int]
    cost: int


type Put = tuple[float, tuple[tuple[int, int], ...]]
"""What putting a set of sessions somewhere adds, and the day and node of each."""


@dataclass(slots=True)
class Repairs:
    """The repairs of one kind of week. What was worked out for a day stays known."""

    kind: AlikeWeeks
    work: Work
    charge: int
    """Minutes for each session that has no place, or leaves an open one."""
    days: dict[tuple[int, tuple[int, ...], tuple[int, ...]], Sets] = field(default_factory=dict)
    routes: dict[tuple[int, tuple[int, ...]], int | None] = field(default_factory=dict)

    def cost(self, sessions: Iterable[StandingSession]) -> int:
        """Minutes that such a week drives at least with every open session at its time, and the charges."""
        begun = self.begun(sessions)
        return begun.cost + self.rest(begun)

    def begun(self, sessions: Iterable[StandingSession]) -> StayingWeek:
        """What such a week holds of a timetable, and what that alone costs."""
        self.work.add(ASKED)
        visits, missing, away = self.held(sessions)
        return StayingWeek(
            visits, missing, self.charge * away + sum(map(self._route_cost, range(len(visits)), visits))
        )

    def rest(self, begun: StayingWeek) -> int:
        """What all that is still owed adds at least, or is charged."""
        missing = begun.missing
        if len(missing) > MOST_MISSING:
            return self.charge * len(missing)
        found = self.put(begun.visits, missing, self._known)
        return min(int(cost) + self.charge * (len(missing) - mine.bit_count()) for mine, (cost, _) in found.items())

    def _route_cost(self, day: int, visits: tuple[int, ...]) -> int:
        return self._priced(day, visits) or 0

    def held(self, sessions: Iterable[StandingSession]) -> Held:
        """What such a week holds of a timetable, each session in its turn."""
        model = self.kind.model
        visits = [tuple(day.required) for day in model.days]
        days, away = self._pinned_days(), 0
        for session in sessions:
            away += self._barred(session)
            for number, node in self.kind.nodes.get(session, ()):
                services = model.days[number].nodes[node].services
                if node in visits[number] or not self._may(services, number, days):
                    continue
                trial = tuple(sorted((*visits[number], node)))
                if self._priced(number, trial) is None:
                    away += 1
                    continue
                visits[number] = trial
                for service in services:
                    days[service].append(number)
        return visits, _still_owed(model.owed, days), away

    def _barred(self, session: StandingSession) -> bool:
        """Whether such a week owes a session and can't begin it then, though nothing about its day is unusual."""
        week = self.kind.week
        return (
            session not in self.kind.nodes
            and week.problem.has_unit(session.unit)
            and not is_unusual(week, session)
            and not any(pin.unit == session.unit for pin in week.problem.pins)
        )

    def _pinned_days(self) -> list[list[int]]:
        """For each service the days on which it is held whatever stands."""
        model = self.kind.model
        days: list[list[int]] = [[] for _ in model.owed]
        for day in model.days:
            for node in (*day.required, *(copies[0] for copies in day.one_of)):
                for service in day.nodes[node].services:
                    days[service].append(day.index)
        return days

    def _may(self, services: Sequence[int], day: int, days: Sequence[Sequence[int]]) -> bool:
        """Whether one session more of each is owed, and far enough from its other days."""
        model = self.kind.model
        return all(
            len(days[one]) < model.owed[one] and all(abs(day - d) >= model.days_apart[one] for d in days[one])
            for one in services
        )

    def _priced(self, day: int, visits: tuple[int, ...]) -> int | None:
        """Minutes of a day's route, wishes weighed; ``None`` where it can't be."""
        key = day, visits
        if key not in self.routes:
            self.work.add(PRICED)
            route = best_route(self.kind.model.days[day], visits)
            self.routes[key] = None if route is None else route.drive + WISH_MINUTE * route.missed
        return self.routes[key]

    # ---- what has no place -------------------------------------------------------------------------------

    def put(
        self,
        visits: Sequence[tuple[int, ...]],
        missing: Sequence[int],
        sets_of: Callable[[int, tuple[int, ...], tuple[int, ...]], Sets],
        blur: Callable[[int], float] = float,
    ) -> dict[int, Put]:
        """By set of the missing sessions (a bit each): the cheapest way to hold it, costs as ``blur`` has them."""
        services = tuple(sorted(set(missing)))
        bits = [[n for n, other in enumerate(missing) if other == one] for one in services]
        found: dict[int, Put] = {0: (0.0, ())}
        for day in range(len(visits) if missing else 0):
            ways = _single(sets_of(day, visits[day], services), bits)
            costs = [(mine, blur(cost), tuple((day, n) for n in nodes)) for mine, cost, nodes in ways]
            found = self._joined(found, costs)
        return found

    def _joined(
        self, found: Mapping[int, Put], more: Sequence[tuple[int, float, tuple[tuple[int, int], ...]]]
    ) -> dict[int, Put]:
        joined = dict(found)
        for mine, (cost, where) in found.items():
            for other, extra, there in more:
                both = mine | other
                if not mine & other and (both not in joined or cost + extra < joined[both][0]):
                    joined[both] = cost + extra, where + there
        self.work.add(JOIN * len(found) * len(more))
        return joined

    def _known(self, day: int, visits: tuple[int, ...], services: tuple[int, ...]) -> Sets:
        key = day, visits, services
        if key not in self.days:
            self.days[key] = self.sets(day, visits, services)
        return self.days[key]

    def sets(
        self,
        number: int,
        visits: tuple[int, ...],
        services: tuple[int, ...],
        passed_over: Callable[[], bool] = lambda: False,
    ) -> Sets:
        """What each set of services adds to a day at least. ``passed_over``: whether to leave a node out."""
        day = self.kind.model.days[number]
        free = [one for one in self._free(day, visits, services) if not passed_over()]
        found: dict[tuple[int, bool], tuple[int, tuple[int, ...]]] = {(0, day.day.lunch is None): (0, ())}
        for a, b in pairwise((0, *visits, len(day.nodes) - 1)):
            found = self._with_gap(found, self._ways(day, a, b, free))
        plain, sets = self._route_cost(number, visits), dict[int, tuple[int, tuple[int, ...]]]()
        for (mine, lunch), (_, nodes) in found.items():
            cost = self._priced(number, tuple(sorted((*visits, *nodes)))) if mine and lunch else None
            if cost is not None and (mine not in sets or cost - plain < sets[mine][0]):
                sets[mine] = cost - plain, nodes
        return sets

    def _with_gap(
        self, found: Mapping[tuple[int, bool], tuple[int, tuple[int, ...]]], ways: Sequence[Way]
    ) -> dict[tuple[int, bool], tuple[int, tuple[int, ...]]]:
        """The tables of a day's gaps so far, and of one more."""
        self.work.add(JOIN * len(found) * len(ways))
        joined: dict[tuple[int, bool], tuple[int, tuple[int, ...]]] = {}
        for (mine, lunch), (cost, nodes) in found.items():
            for other, extra, fits, added in ways:
                both = mine | other, lunch or fits
                if not mine & other and (both not in joined or cost + extra < joined[both][0]):
                    joined[both] = cost + extra, nodes + added
        return joined

    def _free(self, day: DayModel, visits: Sequence[int], services: Sequence[int]) -> list[tuple[int, int]]:
        """The nodes that could be put into a day, in order of time, each with its set of services."""
        held = {one for node in visits for one in day.nodes[node].services}
        bit = {one: 1 << n for n, one in enumerate(services) if one not in held}
        mine = {n for one in bit for n in self.kind.empty.by_service[day.index][one]}
        found = ((n, day.nodes[n].services) for n in sorted(mine))
        return [(n, sum(map(bit.__getitem__, of))) for n, of in found if bit.keys() >= {*of}]

    def _ways(self, day: DayModel, a: int, b: int, free: Sequence[tuple[int, int]]) -> list[Way]:
        """Everything that fits between two visits, nothing at all first; the cheapest of each set."""
        nodes, begin = day.nodes, day.gap(a, b)
        if begin is None:
            return []
        since, until = nodes[a].end, nodes[b].start
        inside = [one for one in free if since <= nodes[one[0]].start and nodes[one[0]].end <= until]
        best: dict[tuple[int, bool], Way] = {}
        open_ways: list[tuple[int, Way]] = [(a, (0, -begin.drive, False, ()))]
        while open_ways:
            last, (mine, drive, lunch, so_far) = open_ways.pop()
            end = day.gap(last, b)
            if end is not None:
                whole = mine, drive + end.drive, lunch or end.lunch_fits, so_far
                best[mine, whole[2]] = min(best.get((mine, whole[2]), whole), whole, key=itemgetter(1))
            self.work.add(REACH * (1 + len(inside) // 4))
            open_ways += _longer(day, last, (mine, drive, lunch, so_far), inside)
        return list(best.values())


def _still_owed(owed: Sequence[int], days: Sequence[Sequence[int]]) -> list[int]:
    """Services as often as they are owed beyond the days on which they are held."""
    return [one for one, held in enumerate(days) for _ in range(owed[one] - len(held))]


def _longer(day: DayModel, last: int, way: Way, inside: Iterable[tuple[int, int]]) -> Iterator[tuple[int, Way]]:
    """What goes into a gap, with one visit more after the last."""
    mine, drive, lunch, so_far = way
    for n, more in inside:
        gap = None if n <= last or mine & more else day.gap(last, n)
        if gap is not None:
            yield n, (mine | more, drive + gap.drive, lunch or gap.lunch_fits, (*so_far, n))


def _single(sets: Sets, bits: Sequence[Sequence[int]]) -> list[tuple[int, int, tuple[int, ...]]]:
    """The sets in bits of single sessions: a service that is owed twice has two."""
    found: list[tuple[int, int, tuple[int, ...]]] = []
    for mine, (cost, nodes) in sets.items():
        masks = [0]
        for n, its in enumerate(bits):
            if mine >> n & 1:
                masks = [mask | 1 << bit for mask in masks for bit in its]
        found += [(mask, cost, nodes) for mask in masks]
    return found
