"""A problem in the shape the search works on: numbered places, services and, for each day, nodes and gaps.

A *node* is one session at one start, or one fixed block. A *gap* is the time between two nodes that follow each
other: it must hold the drive and the setting up, and may hold lunch, preparation and a break. That is all there
is to a day: a route is a path of nodes, and whatever it costs is a sum over its nodes and gaps (but for wishes,
of which no less than nothing can be missed). Since a node has its minute, a gap depends on its two nodes alone
and is worked out once.

A window is a start a minute (``problem.Window``), several spaces at one minute are one node: a route doesn't care
which. ``layout`` makes all of this from a problem. The independent judge (``check``) shares nothing with either.
"""

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

from schedule.planner.problem import Day, Lunch, Problem
from schedule.planner.week.work import Work

OPEN = -1
"""Place number of an open end of the day (it begins or ends wherever its first or last visit is)."""

OFF_PATTERN_MINUTES = 60
"""The most that one session adds to sameness: a session off its usual day or more than an hour off."""

BUNCHED_DAY_MINUTES = 15
"""Added to sameness for each day by which two sessions of a service stand closer than evenly spread."""


@dataclass(frozen=True, slots=True)
class Node:
    """One possible visit of a day, from ``start`` to ``end`` in minutes after midnight.

    ``services`` are the numbers of those that one visit covers, several for a group; a block has none and
    ``unit`` is ``None``. ``fixed``: every plan holds it (a pin, a block). ``kept``: how many of its services are
    held just so in the week in force. ``off``: minutes off their usual times, 60 a service at most.
    """

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

    ``drive`` is minutes at the wheel; parking and packing take time and cost nothing. ``preparation``: free
    minutes, 0 where they are less than the smallest piece that counts; ``lunch_preparation`` the same with lunch
    in the gap. Without lunch the drive follows the earlier visit at once: free time in one piece is never worth
    less than in two. ``rest``: the free time is a break.
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
    """One day: node 0 is its beginning, the last node its end, the others in order of time.

    ``required`` are the nodes that every route holds; of each list in ``one_of`` it holds one: the copies of a
    block without a place, one a place, or of a pin that leaves its place or length open.
    """

    index: int
    day: Day
    nodes: list[Node]
    model: "Model"
    required: list[int]
    one_of: list[list[int]]
    _gaps: dict[int, Gap | None] = field(default_factory=dict)
    _known: "dict[GapKey, Gap | None] | None" = None

    def gap(self, before: int, after: int) -> Gap | None:
        """What fits between two nodes, or ``None`` where the one can't follow the other."""
        key = before * len(self.nodes) + after
        if key not in self._gaps:
            self._gaps[key] = self._shared_gap(self.nodes[before], self.nodes[after], before != 0)
        return self._gaps[key]

    def _shared_gap(self, before: Node, after: Node, follows: bool) -> Gap | None:
        """The gap, worked out once for all days with the same lunch: nothing else of a day matters to it."""
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
        lunch = self.lunch_choice(begin, finish, leg, self._lunch_sides(before, after))
        if lunch is None:
            return Gap(drive, preparation, free >= model.break_minutes, False, 0, 0, begin)
        prepared, at, leg_at = lunch
        return Gap(drive, preparation, free >= model.break_minutes, True, prepared, at, leg_at)

    def _lunch_sides(self, before: Node, after: Node) -> tuple[bool, ...]:
        """Whether lunch may follow the drive, and whether it may come before: of those that its place allows."""
        wanted = None if self.day.lunch is None else self.day.lunch.place
        if wanted is None:
            return (True, False)
        here = before.place if before.place != OPEN else after.place
        there = after.place if after.place != OPEN else before.place
        ids = self.model.place_ids
        sides = ((True, there), (False, here))
        return tuple(drive_first for drive_first, place in sides if place != OPEN and ids[place] == wanted)

    def lunch_choice(
        self, begin: int, finish: int, leg: int, sides: tuple[bool, ...] = (True, False)
    ) -> tuple[int, int, int] | None:
        """The most preparation that a gap with lunch leaves, when lunch begins and when the drive does.

        The drive goes first or lunch does: a drive in the middle of the free time would only cut it up more. Lunch
        then parts the spare minutes into those before and those after it. What counts of them (a piece shorter than
        the smallest one counts nothing) is most where lunch stands at either end, or where one piece is just large
        enough to count, as far as lunch's own window lets it; no other place needs to be tried.
        """
        lunch = self.day.lunch
        if lunch is None or finish - begin - leg < lunch.minutes:
            return None
        spare = finish - begin - leg - lunch.minutes
        best: tuple[int, int, int] | None = None
        for drive_first in sides:
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
    """The whole problem in numbers. Matrices are indexed by place number; -1 (``OPEN``) costs nothing.

    ``leg`` is packing up, driving, parking and signing in; ``drive`` the part at the wheel, all in minutes. One
    entry a service: ``owed`` sessions, ``value`` of one that isn't placed (minutes times weight), ``days_apart``,
    ``anchored`` (it has no usual time and is held against its own median), ``pinned`` the days of
    its pins.
    """

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
    current_sessions: int
    uses_wishes: bool
    """Whether any contract wish is asked for."""
    days: list[DayModel] = field(default_factory=list)
    pinned: defaultdict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    work: Work = field(default_factory=Work)
    known_gaps: dict[Lunch | None, dict[GapKey, Gap | None]] = field(default_factory=dict)

    @property
    def preparation_wish(self) -> int:
        """Minutes of preparation wished for over the horizon."""
        return 0 if self.problem.preparation is None else self.problem.preparation.minutes

    @property
    def value_step(self) -> int:
        """All values of unplaced minutes are multiples of this, so that a bound may be rounded up to the next
        one."""
        return math.gcd(*self.value) or 1

    def windows(self, service: int) -> list[range]:
        """Runs of days of which a service may be held on one at most; none where its days are free.

        Two sessions are ``days_apart`` days apart exactly if each run of so many days holds one at most. On
        different days (1) they are anyway, as a route holds a service once then.
        """
        days, apart = len(self.days), self.days_apart[service]
        if apart <= 1 or self.owed[service] <= 1:
            return []
        return [range(first, min(days, first + apart)) for first in range(max(1, days - apart + 1))]

    def ideal_distance(self, service: int) -> int:
        """Days between two sessions of a service if they were evenly spread."""
        return max(1, len(self.days) // max(1, self.owed[service]))


NO_STRETCH = 10**6
"""More minutes than any day has, where no longest stretch is wished for."""
