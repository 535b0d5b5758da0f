"""A problem in the shape the search works on: numbered places, services and, for each day, nodes and gaps.

A *node* is one session at one start, or one fixed block. A *gap* is the time between two nodes that follow
each other: it must hold the drive and the setting up, and may hold lunch, preparation and a break. The
independent judge (``check``) shares nothing with this module.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from schedule.planner.pins import pinned_start
from schedule.planner.problem import (
    Block,
    Day,
    Group,
    Lunch,
    Pin,
    Problem,
    Service,
    Session,
    Start,
    all_starts,
)
from schedule.planner.result import sessions_of_services

OPEN = -1
"""Place number of an open end of the day (it begins or ends wherever its first or last visit is)."""

OFF_PATTERN_MINUTES = 60
"""The most that one session adds to sameness: a session off its usual day or more than an hour off."""

BUNCHED_DAY_MINUTES = 15
"""Added to sameness for each day by which two sessions of a service stand closer than evenly spread."""


@dataclass(frozen=True, slots=True)
class Node:
    """One possible visit of a day. ``services`` are numbers; a block has none and ``unit`` is ``None``."""

    start: int
    end: int
    place: int
    services: tuple[int, ...] = ()
    unit: str | None = None
    space: str | None = None
    label: str = ""
    fixed: bool = False
    kept: int = 0
    off: int = 0

    @property
    def session(self) -> bool:
        """Whether this is a session (not a block or an end of the day)."""
        return self.unit is not None


def off_times(node: Node, times: Mapping[int, int]) -> int:
    """Minutes that a visit lies off the times given for its services, each counted up to the most there is."""
    return sum(min(OFF_PATTERN_MINUTES, abs(node.start - times[s])) for s in node.services if s in times)


@dataclass(frozen=True, slots=True)
class Gap:
    """What fits between two visits. ``lunch_at`` and ``leg_at`` are where lunch and drive go with lunch.

    Without lunch the drive follows the earlier visit at once. ``rest``: the free time is a break.
    """

    drive: int
    preparation: int
    rest: bool
    lunch_fits: bool
    lunch_preparation: int
    lunch_at: int
    leg_at: int


type GapKey = tuple[int, int, bool, int, int, bool]
"""End and place of the visit before and whether it is one, start and place of the one after, whether a session."""


@dataclass(slots=True)
class DayModel:
    """One day: node 0 is its beginning, the last node its end, the others in order of time."""

    index: int
    day: Day
    nodes: list[Node]
    model: "Model"
    required: list[int]
    placeless: list[list[int]]
    _gaps: dict[int, Gap | None] = field(default_factory=dict)
    _known: "dict[GapKey, Gap | None] | None" = None

    def gap(self, before: int, after: int) -> Gap | None:
        """What fits between two nodes, or ``None`` where the one can't follow the other."""
        key = before * len(self.nodes) + after
        if key not in self._gaps:
            self._gaps[key] = self._shared_gap(self.nodes[before], self.nodes[after], before != 0)
        return self._gaps[key]

    def _shared_gap(self, before: Node, after: Node, follows: bool) -> Gap | None:
        """The gap, worked out once for all days with the same lunch."""
        if self._known is None:
            self._known = self.model.known_gaps.setdefault(self.day.lunch, {})
        known = self._known
        key = (before.end, before.place, follows, after.start, after.place, after.session)
        if key not in known:
            known[key] = self._compute_gap(before, after, follows)
        return known[key]

    def _compute_gap(self, before: Node, after: Node, follows: bool) -> Gap | None:
        model = self.model
        leg = model.leg[before.place][after.place]
        begin = before.end
        finish = after.start - (model.setup if after.session and follows else 0)
        free = finish - begin - leg
        if free < 0:
            return None
        drive = model.drive[before.place][after.place]
        preparation = free if free >= model.smallest_block else 0
        lunch = self.lunch_choice(begin, finish, leg)
        if lunch is None:
            return Gap(drive, preparation, free >= model.break_minutes, False, 0, 0, begin)
        prepared, at, leg_at = lunch
        return Gap(drive, preparation, free >= model.break_minutes, True, prepared, at, leg_at)

    def spare_with_lunch(self, before: int, after: int) -> int:
        """Minutes between two nodes beside drive, setting up and lunch."""
        one, other = self.nodes[before], self.nodes[after]
        setup = self.model.setup if other.session and before != 0 else 0
        lunch = 0 if self.day.lunch is None else self.day.lunch.minutes
        return other.start - one.end - setup - self.model.leg[one.place][other.place] - lunch

    def lunch_choice(self, begin: int, finish: int, leg: int) -> tuple[int, int, int] | None:
        """The most preparation that a gap with lunch leaves, when lunch begins and when the drive does."""
        lunch = self.day.lunch
        if lunch is None or finish - begin - leg < lunch.minutes:
            return None
        spare = finish - begin - leg - lunch.minutes
        best: tuple[int, int, int] | None = None
        for drive_first in (True, False):
            base = begin + leg if drive_first else begin
            low = max(base, lunch.earliest)
            high = min(base + spare, lunch.latest_end - lunch.minutes)
            if low > high:
                continue
            for wanted in (base, base + spare, base + self._smallest, base + spare - self._smallest):
                at = min(max(wanted, low), high)
                kept = self._counted(at - base) + self._counted(base + spare - at)
                leg_at = begin if drive_first else at + lunch.minutes
                if best is None or kept > best[0]:
                    best = (kept, at, leg_at)
        return best

    @property
    def _smallest(self) -> int:
        return self.model.smallest_block

    def _counted(self, minutes: int) -> int:
        return minutes if minutes >= self.model.smallest_block else 0


@dataclass(slots=True)
class Model:
    """The whole problem in numbers. Matrices are indexed by place number; -1 (``OPEN``) costs nothing."""

    problem: Problem
    place_ids: list[str]
    leg: list[list[int]]
    drive: list[list[int]]
    setup: int
    smallest_block: int
    break_minutes: int
    stretch: int
    owed: list[int]
    value: list[int]
    days_apart: list[int]
    anchored: list[bool]
    pinned: list[int]
    current_sessions: int
    uses_wishes: bool
    """Whether any contract wish is asked for."""
    days: list[DayModel] = field(default_factory=list)
    known_gaps: dict[Lunch | None, dict[GapKey, Gap | None]] = field(default_factory=dict)

    @property
    def preparation_wish(self) -> int:
        """Minutes of preparation wished for over the horizon."""
        return 0 if self.problem.preparation is None else self.problem.preparation.minutes

    @property
    def value_step(self) -> int:
        """All values of unplaced minutes are multiples of this."""
        return math.gcd(*self.value) or 1

    def windows(self, service: int) -> list[range]:
        """Runs of days of which a service may be held on one at most; none where its days are free."""
        days, apart = len(self.days), self.days_apart[service]
        if apart <= 1 or self.owed[service] <= 1:
            return []
        return [range(first, min(days, first + apart)) for first in range(max(1, days - apart + 1))]

    def ideal_distance(self, service: int) -> int:
        """Days between two sessions of a service if they were evenly spread."""
        return max(1, len(self.days) // max(1, self.owed[service]))


NO_STRETCH = 10**6


def build_model(problem: Problem) -> Model:
    """Number everything and lay out the nodes of each day."""
    place_ids = [place.id for place in problem.places]
    ends: list[str | None] = [*place_ids, None]
    stretch = problem.longest_stretch
    model = Model(
        problem=problem,
        place_ids=place_ids,
        leg=[[problem.leg_minutes(a, b) for b in ends] for a in ends],
        drive=[[problem.drive(a, b) for b in ends] for a in ends],
        setup=problem.setup_minutes,
        smallest_block=problem.preparation.smallest_block if problem.preparation else 1,
        break_minutes=stretch.break_minutes if stretch else NO_STRETCH,
        stretch=stretch.minutes if stretch else NO_STRETCH,
        owed=[service.sessions for service in problem.services],
        value=[service.minutes * service.weight for service in problem.services],
        days_apart=[service.days_apart for service in problem.services],
        anchored=[not service.usual for service in problem.services],
        pinned=[0] * len(problem.services),
        current_sessions=0,
        uses_wishes=_any_wish(problem),
    )
    kept = _kept_keys(problem, model)
    for index in range(len(problem.days)):
        model.days.append(_DayBuilder(model, index, kept).build())
    return model


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


class _DayBuilder:
    """Lays out the nodes of one day."""

    def __init__(self, model: Model, index: int, kept: dict[tuple[str, int, int, str], Session]) -> None:
        self.model = model
        self.problem = model.problem
        self.index = index
        self.day = model.problem.days[index]
        self.kept = kept
        self.numbers = {service.id: number for number, service in enumerate(self.problem.services)}
        self.places = {place: number for number, place in enumerate(model.place_ids)}

    def build(self) -> DayModel:
        """The day's nodes, its end nodes, and which of them every plan must hold."""
        pins = self._pins()
        fixed = [self._session_node(pin.unit, start, True) for pin, start in pins]
        for pin in fixed:
            for service in pin.services:
                self.model.pinned[service] += 1
        placed = [block for block in self.day.blocks if block.place is not None]
        fixed += [self._block_node(block, self._place(block.place)) for block in placed]
        loose = [block for block in self.day.blocks if block.place is None]
        busy = [(node.start, node.end) for node in fixed] + [(block.start, block.end) for block in loose]
        nodes = fixed + [node for node in self._candidates() if self._possible(node, busy)]
        copies = [
            self._block_node(block, place)
            for block in loose
            for place in (range(len(self.model.place_ids)) if self.model.place_ids else [OPEN])
        ]
        ordered = sorted(nodes + copies, key=lambda node: (node.start, node.end, node.place, node.unit or ""))
        return self._assemble(ordered, loose)

    def _assemble(self, ordered: list[Node], loose: list[Block]) -> DayModel:
        day = self.day
        first = Node(day.start, day.start, self._place(day.start_place))
        last = Node(day.end, day.end, self._place(day.end_place))
        nodes = [first, *ordered, last]
        loose_starts = [block.start for block in sorted(loose, key=lambda block: block.start)]
        placeless = [
            [n for n, node in enumerate(nodes[1:-1], 1) if self._is_copy(node, start)] for start in loose_starts
        ]
        copies = {n for group in placeless for n in group}
        required = [n for n, node in enumerate(nodes) if node.fixed and n not in copies]
        return DayModel(self.index, day, nodes, self.model, required, placeless)

    @staticmethod
    def _is_copy(node: Node, start: int) -> bool:
        return node.fixed and not node.session and node.start == start

    def _place(self, place_id: str | None) -> int:
        return OPEN if place_id is None else self.places[place_id]

    def _pins(self) -> list[tuple[Pin, Start]]:
        found: list[tuple[Pin, Start]] = []
        for pin in self.problem.pins:
            start = pinned_start(self.problem, pin)
            if pin.day == self.day.id and start is not None:
                found.append((pin, start))
        return found

    def _block_node(self, block: Block, place: int) -> Node:
        return Node(block.start, block.end, place, label=block.label, fixed=True)

    def _possible(self, node: Node, busy: list[tuple[int, int]]) -> bool:
        inside = self.day.start <= node.start and node.end <= self.day.end
        return inside and all(node.end <= start or end <= node.start for start, end in busy)

    def _candidates(self) -> list[Node]:
        """One node for each unit, minute, place and length; several spaces make one node."""
        found: dict[tuple[str, int, str, int], Node] = {}
        units: list[Service | Group] = [*self.problem.services, *self.problem.groups]
        for unit in units:
            for start in all_starts(unit):
                if start.day != self.day.id:
                    continue
                key = (unit.id, start.at, start.place, self.problem.minutes_of(unit.id, start))
                node = self._session_node(unit.id, start, False)
                if key not in found or self._keeps_space(unit.id, start):
                    found[key] = node
        return [node for node in found.values() if self._owed(node)]

    def _owed(self, node: Node) -> bool:
        return all(self.model.owed[service] > 0 for service in node.services)

    def _keeps_space(self, unit: str, start: Start) -> bool:
        numbers = [self.numbers[member] for member in self.problem.members(unit)]
        sessions = [self.kept.get((start.day, start.at, number, start.place)) for number in numbers]
        return any(session is not None and session.space == start.space for session in sessions)

    def _session_node(self, unit: str, start: Start, fixed: bool) -> Node:
        numbers = tuple(self.numbers[member] for member in self.problem.members(unit))
        keys = [(start.day, start.at, number, start.place) for number in numbers]
        return Node(
            start=start.at,
            end=start.at + self.problem.minutes_of(unit, start),
            place=self.places[start.place],
            services=numbers,
            unit=unit,
            space=start.space,
            label=self.problem.name_of_unit(unit),
            fixed=fixed,
            kept=sum(key in self.kept for key in keys),
            off=sum(self._off(number, start) for number in numbers),
        )

    def _off(self, number: int, start: Start) -> int:
        """Minutes off the usual time; 0 for a service without one (it is held against its own median)."""
        usual = self.problem.services[number].usual
        if not usual:
            return 0
        away = [abs(start.at - minute) for key, minute in usual if key == start.pattern_key]
        return min([*away, OFF_PATTERN_MINUTES])
