"""Lays a problem out as a ``Model``: everything numbered, the possible visits of each day in order of time."""

from collections.abc import Callable

from schedule.planner.pins import pinned_starts
from schedule.planner.problem import Block, Group, Problem, Service, Session, Start, all_starts
from schedule.planner.result import sessions_of_services
from schedule.planner.week.model import NO_STRETCH, OFF_PATTERN_MINUTES, OPEN, DayModel, Model, Node


def build_model(problem: Problem) -> Model:
    """Number everything and lay out the nodes of each day."""
    place_ids = [place.id for place in problem.places]
    ends: list[str | None] = [*place_ids, None]
    stretch = problem.longest_stretch
    services = problem.services
    model = Model(
        problem=problem,
        place_ids=place_ids,
        leg=_matrix(ends, problem.leg_minutes),
        drive=_matrix(ends, problem.drive),
        setup=problem.setup_minutes,
        smallest_block=problem.preparation.smallest_block if problem.preparation else 1,
        break_minutes=stretch.break_minutes if stretch else NO_STRETCH,
        stretch=stretch.minutes if stretch else NO_STRETCH,
        owed=[service.sessions for service in services],
        value=[service.minutes * service.weight for service in services],
        days_apart=[service.days_apart for service in services],
        anchored=[not service.usual for service in services],
        current_sessions=0,
        uses_wishes=_any_wish(problem),
    )
    kept = _kept_keys(problem, model)
    starts = _starts_by_day(problem)
    for index, day in enumerate(problem.days):
        model.days.append(_DayBuilder(model, index, kept, starts[day.id]).build())
    return model


def _starts_by_day(problem: Problem) -> dict[str, list[tuple[Service | Group, Start]]]:
    """Every start of each day with the service or group that it is one of, in their order."""
    found: dict[str, list[tuple[Service | Group, Start]]] = {day.id: [] for day in problem.days}
    units: list[Service | Group] = [*problem.services, *problem.groups]
    for unit in units:
        for start in all_starts(unit):
            found[start.day].append((unit, start))
    return found


def _matrix(ends: list[str | None], minutes: Callable[[str | None, str | None], int]) -> list[list[int]]:
    """Minutes between every two ends. The open end is the last one, so that its number, -1, finds it."""
    return [[minutes(a, b) for b in ends] for a in ends]


def _any_wish(problem: Problem) -> bool:
    horizon = problem.preparation is not None and problem.preparation.minutes > 0
    return horizon or problem.longest_stretch is not None or any(d.preparation_minutes > 0 for d in problem.days)


def _kept_keys(problem: Problem, model: Model) -> dict[tuple[str, int, int, str], Session]:
    """The week in force by (day, minute, service number, place)."""
    if problem.current is None:
        return {}
    covered = sessions_of_services(problem, problem.current)
    keys = {
        (session.day, session.at, number, session.place): session
        for number, service in enumerate(problem.services)
        for session in covered[service.id]
    }
    model.current_sessions = len(keys)
    return keys


def _in_time(node: Node) -> tuple[int, int, int, str]:
    """The order of nodes: of two that can follow each other the first has the lower number.

    All walks rely on it. Place and unit settle ties, so that the same problem always makes the same numbers.
    """
    return node.start, node.end, node.place, node.unit or ""


class _DayBuilder:
    """Lays out the nodes of one day."""

    def __init__(
        self,
        model: Model,
        index: int,
        kept: dict[tuple[str, int, int, str], Session],
        starts: list[tuple[Service | Group, Start]],
    ) -> None:
        self.starts = starts
        self.model = model
        self.problem = model.problem
        self.index = index
        self.day = model.problem.days[index]
        self.kept = kept
        self.numbers = {service.id: number for number, service in enumerate(self.problem.services)}
        self.places = {place: number for number, place in enumerate(model.place_ids)}
        self.units: dict[str, tuple[tuple[int, ...], str]] = {}

    def build(self) -> DayModel:
        """The day's nodes, its end nodes, and which of them every plan must hold.

        What overlaps a pin or a block can be in no plan and is no node. A block without a place is one node at each
        place, a pin without one a node at each that it could be; of these a route holds one (``DayModel.one_of``).
        """
        always = sorted([*self._pinned(), *self._blocks()], key=lambda nodes: nodes[0].start)
        # Of several copies only the time that all of them take is busy whichever is held.
        busy = [(nodes[0].start, min(node.end for node in nodes)) for nodes in always]
        held = [self._clear(nodes, busy) for nodes in always]
        possible = [node for node in self._candidates() if self._possible(node, busy)]
        return self._assemble(possible, held)

    def _pinned(self) -> list[list[Node]]:
        """The nodes that each of the day's pins leaves open; the day is kept for each service."""
        found: list[list[Node]] = []
        for pin in self.problem.pins:
            if pin.day == self.day.id:
                starts = pinned_starts(self.problem, pin)
                found.append([self._session_node(pin.unit, start, True) for start in starts])
        for service in (service for nodes in found for service in nodes[0].services):
            self.model.pinned[service].append(self.index)
        return found

    def _clear(self, copies: list[Node], busy: list[tuple[int, int]]) -> list[Node]:
        """The copies of one visit that nothing else which every plan holds overlaps; the shortest if all are."""
        shortest = min(copies, key=lambda node: node.end)
        others = list(busy)
        others.remove((shortest.start, shortest.end))
        return [node for node in copies if self._possible(node, others)] or [shortest]

    def _blocks(self) -> list[list[Node]]:
        """The nodes of each block: one at its place, or at each place if it is held wherever the teacher is."""
        anywhere = list(range(len(self.model.place_ids))) or [OPEN]
        return [
            [
                self._block_node(block, one)
                for one in (anywhere if block.place is None else [self._place(block.place)])
            ]
            for block in self.day.blocks
        ]

    def _assemble(self, possible: list[Node], held: list[list[Node]]) -> DayModel:
        """The day of nodes that may be held, and of those of which every route holds one a list."""
        day = self.day
        ordered = sorted([*possible, *(node for nodes in held for node in nodes)], key=_in_time)
        first = Node(day.start, day.start, self._place(day.start_place))
        last = Node(day.end, day.end, self._place(day.end_place))
        nodes = [first, *ordered, last]
        numbers = {id(node): number for number, node in enumerate(nodes)}
        lists = [sorted(numbers[id(node)] for node in copies) for copies in held]
        required = sorted(copies[0] for copies in lists if len(copies) == 1)
        return DayModel(self.index, day, nodes, self.model, required, [one for one in lists if len(one) > 1])

    def _place(self, place_id: str | None) -> int:
        return OPEN if place_id is None else self.places[place_id]

    def _block_node(self, block: Block, place: int) -> Node:
        return Node(block.start, block.end, place, label=block.label, fixed=True)

    def _possible(self, node: Node, busy: list[tuple[int, int]]) -> bool:
        inside = self.day.start <= node.start and node.end <= self.day.end
        return inside and all(node.end <= start or end <= node.start for start, end in busy)

    def _candidates(self) -> list[Node]:
        """One node for each unit, minute, place and length; several spaces make one node."""
        found: dict[tuple[str, int, str, int], Node] = {}
        for unit, start in self.starts:
            key = (unit.id, start.at, start.place, self.problem.minutes_of(unit.id, start))
            if key not in found or self._keeps_space(unit.id, start):
                found[key] = self._session_node(unit.id, start, False)
        return [node for node in found.values() if self._owed(node)]

    def _owed(self, node: Node) -> bool:
        return all(self.model.owed[service] > 0 for service in node.services)

    def _keeps_space(self, unit: str, start: Start) -> bool:
        numbers = [self.numbers[member] for member in self.problem.members(unit)]
        sessions = [self.kept.get((start.day, start.at, number, start.place)) for number in numbers]
        return any(session is not None and session.space == start.space for session in sessions)

    def _session_node(self, unit: str, start: Start, fixed: bool) -> Node:
        if unit not in self.units:
            members = tuple(self.numbers[member] for member in self.problem.members(unit))
            self.units[unit] = members, self.problem.name_of_unit(unit)
        numbers, label = self.units[unit]
        kept = self.kept
        return Node(
            start=start.at,
            end=start.at + self.problem.minutes_of(unit, start),
            place=self.places[start.place],
            services=numbers,
            unit=unit,
            space=start.space,
            label=label,
            fixed=fixed,
            kept=sum((start.day, start.at, number, start.place) in kept for number in numbers) if kept else 0,
            off=sum(self._off(number, start) for number in numbers),
        )

    def _off(self, number: int, start: Start) -> int:
        """Minutes off the usual time; 0 for a service without one (it is held against its own median)."""
        usual = self.problem.services[number].usual
        if not usual:
            return 0
        away = [abs(start.at - minute) for key, minute in usual if key == start.pattern_key]
        return min([*away, OFF_PATTERN_MINUTES])
