"""A standing timetable under construction: its sessions go in and out of every kind of week at once."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Self

from schedule.planner.jsonform import problem_digest
from schedule.planner.problem import Goal, Problem
from schedule.planner.term.alike import kind_of_week, units_of
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.planner.week.construct import fill
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import Model
from schedule.planner.week.state import WeekState

PLACING = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)
WISH_MINUTE = 100
"""Minutes of driving that a missed minute of preparation weighs in the search for a timetable."""

NOT_PLACED, NOT_PLACED_LEAST, SHORT_SESSION = 4, 240, 15
"""A session of so few minutes without a place weighs as so many that leave their usual time, and at least so many
minutes of driving: to make room for it others must. Longer ones weigh more, as they do in a week."""

NOT_PLACED_WISHES = 2
"""Where there are wishes, a minute without a place weighs as so many missed ones more: what is owed comes first."""

type Nodes = tuple[tuple[int, int], ...]


@dataclass(slots=True)
class AlikeWeeks:
    """Weeks that are alike: one of them, how many there are, and where each standing session would be held."""

    week: TermWeek
    count: int
    model: Model
    nodes: dict[StandingSession, Nodes]
    empty: WeekState

    @classmethod
    def of(cls, week: TermWeek, count: int) -> Self:
        """The kind with its model. ``empty.broken_days`` are days whose pins and blocks can't be kept."""
        problem = replace(week.problem, current=None, goals=PLACING)
        model = build_model(problem)
        return cls(week, count, model, _nodes(problem, model), WeekState(model))


def kinds_of(weeks: Sequence[TermWeek]) -> tuple[list[AlikeWeeks], list[int]]:
    """The kinds of week, the first of each before the others; and for each week the number of its kind."""
    known: dict[str, int] = {}
    numbers = [
        known.setdefault(
            problem_digest(kind_of_week(replace(week.problem, current=None), with_pattern=True)), len(known)
        )
        for week in weeks
    ]
    return [AlikeWeeks.of(weeks[numbers.index(n)], numbers.count(n)) for n in known.values()], numbers


def left_over_price(kinds: Sequence[AlikeWeeks], worth: int) -> int:
    """Minutes of driving that an owed minute without a place weighs in the search for a timetable."""
    wished = NOT_PLACED_WISHES * WISH_MINUTE if any(kind.model.uses_wishes for kind in kinds) else 0
    return max(NOT_PLACED_LEAST, NOT_PLACED * worth) // SHORT_SESSION + wished


def _take_out(kind: AlikeWeeks, state: WeekState, sessions: Iterable[StandingSession]) -> None:
    days: dict[int, set[int]] = {}
    for session in sessions:
        for day, node in kind.nodes.get(session, ()):
            if node in state.visits[day]:
                days.setdefault(day, set()).add(node)
    for day, nodes in days.items():
        state.take_out(day, nodes)


def _nodes(problem: Problem, model: Model) -> dict[StandingSession, Nodes]:
    """The nodes of every standing session that there could be, spaces left aside; pins stay whatever stands."""
    numbers = [
        {
            (node.unit, node.start, model.place_ids[node.place]): n
            for n, node in enumerate(day.nodes)
            if node.session and not node.fixed
        }
        for day in model.days
    ]
    found: dict[StandingSession, set[tuple[int, int]]] = {}
    for unit in units_of(problem):
        for start in problem.starts_of(unit.id):
            day = problem.day_index(start.day)
            node = numbers[day].get((unit.id, start.at, start.place))
            if node is not None:
                key = StandingSession(unit.id, start.pattern_key or "", start.at, start.place)
                found.setdefault(key, set()).add((day, node))
    return {key: tuple(sorted(nodes)) for key, nodes in found.items()}


class TermState:
    """Which sessions stand, and for each kind of week what of them it holds. Spaces are left aside."""

    def __init__(self, kinds: Sequence[AlikeWeeks], worth: int) -> None:
        self.kinds = kinds
        self.worth = worth
        self.left_over = left_over_price(kinds, worth)
        self.sessions: list[StandingSession] = []
        self.states = [kind.empty.copy() for kind in kinds]
        self.known: list[dict[tuple[object, ...], int | None]] = [{} for _ in kinds]
        self.rests: list[dict[tuple[tuple[int, ...], ...], int]] = [{} for _ in kinds]

    def copy(self) -> "TermState":
        """A state that can be changed without changing this one."""
        twin = object.__new__(TermState)
        twin.kinds, twin.worth, twin.left_over = self.kinds, self.worth, self.left_over
        twin.known, twin.rests = self.known, self.rests
        twin.sessions = list(self.sessions)
        twin.states = [state.copy() for state in self.states]
        return twin

    # ---- changing ----------------------------------------------------------------------------------------

    def put(self, session: StandingSession) -> None:
        """Let a session stand: every kind of week holds it that can."""
        self.sessions.append(session)
        for kind, state in zip(self.kinds, self.states, strict=True):
            for day, node in kind.nodes.get(session, ()):
                option = state.option(day, node) if node not in state.visits[day] else None
                if option is not None:
                    state.put(option)

    def take_out(self, sessions: Iterable[StandingSession]) -> None:
        """Let sessions stand no longer. What else stands of their units is put in anew, in its order."""
        gone = set(sessions)
        units = {one.unit for one in gone}
        again = [one for one in self.sessions if one.unit in units and one not in gone]
        out = gone.union(again)
        self.sessions = [one for one in self.sessions if one not in out]
        for kind, state in zip(self.kinds, self.states, strict=True):
            _take_out(kind, state, out)
        for session in again:
            self.put(session)

    # ---- what it costs -----------------------------------------------------------------------------------

    def added(self, session: StandingSession) -> int:
        """Minutes of driving over the term that a session more adds, ``worth`` for each week that can't hold it."""
        total = 0
        for number, kind in enumerate(self.kinds):
            for day, node in kind.nodes.get(session, ()):
                total += kind.count * self._added_in(number, day, node)
        return total

    def _added_in(self, number: int, day: int, node: int) -> int:
        state = self.states[number]
        services = state.model.days[day].nodes[node].services
        if any(state.missing(service) <= 0 for service in services):
            return 0
        if not state.fits_counts(day, node):
            return self.worth
        known = self.known[number]
        key = (day, node, *state.visits[day])
        if key not in known:
            route, before = state.route_with(day, node), state.routes[day]
            known[key] = None if route is None else route.drive - before.drive
            if route is not None and state.model.uses_wishes:
                known[key] = route.drive - before.drive + WISH_MINUTE * (route.missed - before.missed)
        added = known[key]
        return self.worth if added is None else added

    def cost(self, most: int) -> int:
        """Minutes of driving over the term, with a charge for what leaves usual times; ends above ``most``."""
        total = 0
        for number in range(len(self.kinds)):
            total += self.kinds[number].count * self._cost_of(number)
            if total > most:
                return total
        return total

    def _cost_of(self, number: int) -> int:
        state = self.states[number]
        key = tuple(map(tuple, state.visits))
        rests = self.rests[number]
        if key not in rests:
            full = state.copy()
            fill(full, regret=True)
            figures = full.figures
            rests[key] = figures.driving + WISH_MINUTE * figures.wishes + self.left_over * figures.unplaced
        return rests[key] + self.worth * self._open_not_held(number)

    def _open_not_held(self, number: int) -> int:
        """Standing sessions that could be held in such a week but for each other."""
        kind, state = self.kinds[number], self.states[number]
        left = Counter(
            {
                service.id: service.sessions - len(held)
                for service, held in zip(kind.model.problem.services, state.held, strict=True)
            }
        )
        count = 0
        for session in self.sessions:
            for day, node in kind.nodes.get(session, ()):
                members = kind.model.problem.members(session.unit)
                if node not in state.visits[day] and all(left[member] > 0 for member in members):
                    left.subtract(members)
                    count += 1
        return count

    def filled(self) -> list[WeekState]:
        """Each kind of week with what is still owed put in where it is cheapest."""
        found = [state.copy() for state in self.states]
        for state in found:
            fill(state, regret=True)
        return found

    def timetable(self) -> StandingTimetable:
        """The sessions that stand; of a unit those first that are held first where not all are owed."""
        return StandingTimetable(tuple(self.sessions))
