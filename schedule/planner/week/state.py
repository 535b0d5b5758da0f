"""A week under construction: sessions go in and out of days, each day being re-timed as they do."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures
from schedule.planner.week.model import DayModel, Model, Node
from schedule.planner.week.objective import STEP, figures_of, rank, service_sameness
from schedule.planner.week.routes import Route, best_route

MOST_KNOWN_CHANGES = 200_000
"""Changes of sameness remembered between states; some tens of megabytes."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way to put a session in: the node, the day's route with it, and the change in rank."""

    cost: int
    day: int
    node: int
    route: Route


class WeekState:
    """Routes for every day, with what is held of each service. Starts from pins and blocks alone."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.goals = model.problem.goals
        self.weights = _weights(self.goals)
        self.least_step = STEP // 2 * self.weights[Goal.SAMENESS] if self.weights[Goal.SAMENESS] else 1
        self.known_changes: dict[tuple[object, ...], int] = {}
        self.quick = [not model.uses_wishes and not day.one_of for day in model.days]
        self.visits: list[list[int]] = [list(day.required) for day in model.days]
        self.held: list[list[tuple[int, int]]] = [[] for _ in model.owed]
        self.by_service = [_nodes_by_service(day, len(model.owed)) for day in model.days]
        self.broken_days: list[int] = []
        self.routes: list[Route] = []
        for day in model.days:
            route = best_route(day, self.visits[day.index])
            if route is None:
                self.broken_days.append(day.index)
            else:
                self.routes.append(route)
            self._count_held(day)

    def _count_held(self, day: DayModel) -> None:
        """Count what every route of a day holds. Copies of a pin are at one time, so that any of them counts."""
        for node in (*day.required, *(copies[0] for copies in day.one_of)):
            self._count(day.index, node, 1)

    # ---- reading -----------------------------------------------------------------------------------------

    @property
    def figures(self) -> GoalFigures:
        """The value of every goal."""
        return figures_of(self.model, self.routes)

    @property
    def rank(self) -> int:
        """All goals in order as one integer, less is better."""
        return rank(self.figures, self.goals)

    def missing(self, service: int) -> int:
        """Sessions of the service that are owed and not held."""
        return self.model.owed[service] - len(self.held[service])

    def allowed(self, service: int, day: int) -> bool:
        """Whether one more session of the service may be held that day."""
        apart = self.model.days_apart[service]
        held = self.held[service]
        return len(held) < self.model.owed[service] and all(abs(day - d) >= apart for d, _ in held)

    def fits_counts(self, day: int, node: int) -> bool:
        """Whether all services of a node are still owed and far enough from their other days."""
        return all(self.allowed(service, day) for service in self.model.days[day].nodes[node].services)

    # ---- trying ------------------------------------------------------------------------------------------

    def route_with(self, day: int, node: int) -> Route | None:
        """The day's route with one more node, or ``None``."""
        model_day = self.model.days[day]
        visits = self.visits[day]
        at, before, after = self._neighbors(day, node)
        if not _in_turn(model_day, before, node, after):
            return None
        if model_day.gap(before, node) is None or model_day.gap(node, after) is None:
            return None
        return best_route(model_day, [*visits[:at], node, *visits[at:]])

    def option(self, day: int, node: int) -> Option | None:
        """The node as an option with its change in rank, or ``None`` where a rule forbids it."""
        if not self.fits_counts(day, node):
            return None
        route = self.route_with(day, node)
        if route is None:
            return None
        return Option(self._cost(day, node, route), day, node, route)

    def best_option(self, service: int, day: int) -> Option | None:
        """The cheapest way to put one session of the service into that day."""
        if self.quick[day]:
            return self._quick_best(service, day)
        best: Option | None = None
        for node in self.by_service[day][service]:
            option = self.option(day, node)
            if option is not None and (best is None or option.cost < best.cost):
                best = option
        return best

    def _quick_best(self, service: int, day: int) -> Option | None:
        """The same where a day's cost is its gaps': only the best node's route is laid out in full."""
        nodes = self.model.days[day].nodes
        best: tuple[int, int] | None = None
        if not self.allowed(service, day):
            return None
        for node in self.by_service[day][service]:
            more = self._added_drive(day, node) if self._members_fit(day, node) else None
            if more is None:
                continue
            cost = self._quick_cost(nodes[node], more)
            # Sameness comes last and is slow to work out: only where the rest doesn't decide.
            if best is not None and cost - best[0] >= self.least_step:
                continue
            cost += self.weights[Goal.SAMENESS] * self._sameness_of(nodes[node], day)
            if best is None or cost < best[0]:
                best = (cost, node)
        return None if best is None else self._laid_out(day, *best)

    def _members_fit(self, day: int, node: int) -> bool:
        """Whether all services of a node are still owed, where it is clear that one of them is."""
        return len(self.model.days[day].nodes[node].services) == 1 or self.fits_counts(day, node)

    def _laid_out(self, day: int, cost: int, node: int) -> Option | None:
        route = best_route(self.model.days[day], sorted([*self.visits[day], node]))
        return None if route is None else Option(cost, day, node, route)

    def _added_drive(self, day: int, node: int) -> int | None:
        """Minutes at the wheel that a node adds to a day without wishes, or ``None`` where it doesn't fit."""
        model_day = self.model.days[day]
        at, before, after = self._neighbors(day, node)
        if not _in_turn(model_day, before, node, after):
            return None
        first, second, split = model_day.gap(before, node), model_day.gap(node, after), model_day.gap(before, after)
        if first is None or second is None or split is None:
            return None
        parts_lunch = self.routes[day].lunch_gap == at and not (first.lunch_fits or second.lunch_fits)
        if parts_lunch and not self._lunch_elsewhere(day, at):
            return None
        return first.drive + second.drive - split.drive

    def _neighbors(self, day: int, node: int) -> tuple[int, int, int]:
        """The number of the gap that a node would go into, and the nodes before and after it."""
        visits = self.visits[day]
        at = bisect_left(visits, node)
        before = visits[at - 1] if at else 0
        after = visits[at] if at < len(visits) else len(self.model.days[day].nodes) - 1
        return at, before, after

    def _lunch_elsewhere(self, day: int, at: int) -> bool:
        """Whether lunch fits into another gap of the day than that one."""
        model_day = self.model.days[day]
        path = (0, *self.visits[day], len(model_day.nodes) - 1)
        gaps = [model_day.gap(a, b) for n, (a, b) in enumerate(pairwise(path)) if n != at]
        return any(gap is not None and gap.lunch_fits for gap in gaps)

    def _quick_cost(self, node: Node, drive: int) -> int:
        """The change in rank without sameness between sessions."""
        weights = self.weights
        cost = weights[Goal.DRIVING] * drive - weights[Goal.CHANGE] * node.kept + weights[Goal.SAMENESS] * node.off
        return cost - weights[Goal.UNPLACED] * sum(self.model.value[service] for service in node.services)

    def _sameness_of(self, node: Node, day: int) -> int:
        if not self.weights[Goal.SAMENESS]:
            return 0
        return sum(self._sameness_change(service, day, node.start) for service in node.services)

    def _cost(self, day: int, node: int, route: Route) -> int:
        before = self.routes[day]
        weights = self.weights
        placed = self.model.days[day].nodes[node]
        cost = weights[Goal.DRIVING] * (route.drive - before.drive)
        cost += weights[Goal.WISHES] * (route.missed - before.missed + self._horizon(before, route))
        cost += weights[Goal.CHANGE] * (before.kept - route.kept)
        same = route.off - before.off
        for service in placed.services:
            cost -= weights[Goal.UNPLACED] * self.model.value[service]
            same += self._sameness_change(service, day, placed.start)
        return cost + weights[Goal.SAMENESS] * same

    def _horizon(self, before: Route, route: Route) -> int:
        wish = self.model.preparation_wish
        if not wish:
            return 0
        total = sum(one.preparation for one in self.routes)
        return max(0, wish - total - route.preparation + before.preparation) - max(0, wish - total)

    def _sameness_change(self, service: int, day: int, start: int) -> int:
        held = self.held[service]
        if not held or not self.weights[Goal.SAMENESS]:
            return 0
        key = (service, day, start, *held)
        if key not in self.known_changes:
            if len(self.known_changes) > MOST_KNOWN_CHANGES:
                self.known_changes.clear()
            more = sorted([*held, (day, start)])
            without = service_sameness(self.model, service, held)
            self.known_changes[key] = service_sameness(self.model, service, more) - without
        return self.known_changes[key]

    # ---- changing ----------------------------------------------------------------------------------------

    def put(self, option: Option) -> None:
        """Take an option that was just worked out."""
        self.visits[option.day].insert(bisect_left(self.visits[option.day], option.node), option.node)
        self.routes[option.day] = option.route
        self._count(option.day, option.node, 1)

    def take_out(self, day: int, nodes: set[int]) -> bool:
        """Take nodes out of a day; ``False`` (nothing changed) if the rest can't be timed then."""
        rest = [node for node in self.visits[day] if node not in nodes]
        route = best_route(self.model.days[day], rest)
        if route is None:
            return False
        self.visits[day], self.routes[day] = rest, route
        for node in nodes:
            self._count(day, node, -1)
        return True

    def movable(self, day: int) -> list[int]:
        """The nodes of a day that are sessions and not pinned."""
        nodes = self.model.days[day].nodes
        return [node for node in self.visits[day] if not nodes[node].fixed]

    def copy(self) -> "WeekState":
        """A state that can be changed without changing this one."""
        twin = object.__new__(WeekState)
        twin.model, twin.goals, twin.weights = self.model, self.goals, self.weights
        twin.by_service, twin.broken_days = self.by_service, self.broken_days
        twin.known_changes = self.known_changes
        twin.quick, twin.least_step = self.quick, self.least_step
        twin.visits = [list(visits) for visits in self.visits]
        twin.held = [list(held) for held in self.held]
        twin.routes = list(self.routes)
        return twin

    def mend(self, day: int, visits: Sequence[int]) -> bool:
        """Hold these visits on a broken day, if they may be held; whether they are."""
        model_day = self.model.days[day]
        copies = {n for group in model_day.one_of for n in group}
        fresh = [n for n in visits if n not in copies and n not in model_day.required]
        for node in fresh:
            if not self.fits_counts(day, node):
                return False
            self._count(day, node, 1)
        self.visits[day] = sorted({*fresh, *model_day.required})
        route = best_route(model_day, self.visits[day])
        if route is None:
            return False
        self.broken_days.remove(day)
        self.routes.insert(sum(one.day < day for one in self.routes), route)
        return True

    def load(self, routes: list[Route]) -> None:
        """Take over whole routes, one a day."""
        self.routes = list(routes)
        self.held = [[] for _ in self.model.owed]
        for route in routes:
            copies = {n for group in self.model.days[route.day].one_of for n in group}
            self.visits[route.day] = [n for n in route.visits if n not in copies]
            for node in route.visits:
                self._count(route.day, node, 1)

    def _count(self, day: int, number: int, step: int) -> None:
        node = self.model.days[day].nodes[number]
        for service in node.services:
            if step > 0:
                self.held[service].append((day, node.start))
            else:
                self.held[service].remove((day, node.start))
            self.held[service].sort()


def _in_turn(day: DayModel, before: int, node: int, after: int) -> bool:
    """Whether three nodes don't overlap: soon told, before any gap is looked up."""
    nodes = day.nodes
    return nodes[before].end <= nodes[node].start and nodes[node].end <= nodes[after].start


def _weights(goals: tuple[Goal, ...]) -> dict[Goal, int]:
    weights = dict.fromkeys(Goal, 0)
    for number, goal in enumerate(reversed(goals)):
        weights[goal] = STEP**number
    return weights


def _nodes_by_service(day: DayModel, services: int) -> list[list[int]]:
    found: list[list[int]] = [[] for _ in range(services)]
    for number, node in enumerate(day.nodes):
        if not node.fixed:
            for service in node.services:
                found[service].append(number)
    return found
