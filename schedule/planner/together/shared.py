"""What is asked of several teachers together: a week each, and what they can't have at the same time.

A *thing* is a student, a class, or a space, by a key. Students and classes can be had once; a space takes as many
sessions as fit. Everything else about a week stays in its ``Problem``.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Goal, Group, Problem, Service, Session, Start, all_starts
from schedule.planner.requirements import require, require_unique

type Held = tuple[str, str, int, int]
"""A thing on a day from a minute to a minute."""
type Spot = tuple[str, int, str, str | None, int]
"""When and where a session is held: day, minute, place, space, minutes."""
type Spans = Mapping[tuple[str, str], Collection[tuple[int, int]]]
"""Times by key and day."""
type Keeps = Callable[[str, Start], bool]
"""Whether a unit keeps a start."""


@dataclass(frozen=True, slots=True)
class TakenOutside:
    """A space that somebody outside the group uses, as far as it leaves room for others."""

    space: str
    day: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Member:
    """One teacher's week. ``things``: students and classes by unit, by key.

    ``roomless``: units that take no room in their space (a class is there already).
    """

    id: str
    name: str
    problem: Problem
    things: Mapping[str, frozenset[str]] = field(default_factory=dict)
    roomless: frozenset[str] = frozenset()

    def held(self, unit: str, start: Start) -> tuple[Held, ...]:
        """The things that a session of a unit has at a start."""
        end = start.at + self.problem.minutes_of(unit, start)
        keys = sorted(self.things.get(unit, ()))
        if start.space is not None and unit not in self.roomless:
            keys.append(space_key(start.place, start.space))
        return tuple((key, start.day, start.at, end) for key in keys)

    def spot(self, unit: str, start: Start) -> Spot:
        """When and where a session of a unit at a start is held."""
        return start.day, start.at, start.place, start.space, self.problem.minutes_of(unit, start)

    def fits(self, unit: str, start: Start, full: Spans) -> bool:
        """Whether a session of a unit at a start meets no time at which a thing is full."""
        return not any(
            begins < until and since < ends
            for key, day, begins, ends in self.held(unit, start)
            for since, until in full.get((key, day), ())
        )


@dataclass(frozen=True, slots=True)
class JointUnit:
    """Services of two members of which sessions are one: at the same time, for as long, in the same place.

    ``times``: of how many sessions at least. Wherever both hold them so, they have their things once.
    """

    one: str
    unit: str
    other: str
    other_unit: str
    times: int

    def __post_init__(self) -> None:
        require(self.one != self.other, "joint", "A joint unit has one member.", "Name two.")
        require(self.times >= 1, "joint", "No session is joint.", "Give 1 or more.")

    def unit_of(self, member: str) -> str | None:
        """The member's unit."""
        return self.unit if member == self.one else self.other_unit if member == self.other else None

    def seen_by(self, member: str) -> tuple[tuple[str, str, str], ...]:
        """From a member's side: the own unit, who the other is, and that one's unit; nothing for others."""
        if member == self.one:
            return ((self.unit, self.other, self.other_unit),)
        return ((self.other_unit, self.one, self.unit),) if member == self.other else ()


@dataclass(frozen=True, slots=True)
class Party:
    """The whole question. ``room``: sessions that fit in a space at once, 1 where nothing is said.

    ``joint``: sessions that two of them hold as one. ``names`` say keys in words. All members have the same days
    and the same order of goals.
    """

    members: tuple[Member, ...]
    room: Mapping[str, int] = field(default_factory=dict)
    taken: tuple[TakenOutside, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    joint: tuple[JointUnit, ...] = ()

    def __post_init__(self) -> None:
        require(len(self.members) >= 1, "members", "There is nobody to plan.", "Name at least one teacher.")
        require_unique([one.id for one in self.members], "members")
        goals = {one.problem.goals for one in self.members}
        require(len(goals) == 1, "goals", "The teachers' goals differ in their order.", "Give all the same order.")

    @property
    def goals(self) -> tuple[Goal, ...]:
        """What is added up over all, in order; sameness is each teacher's own."""
        return tuple(goal for goal in self.members[0].problem.goals if goal is not Goal.SAMENESS)

    def member(self, name: str) -> Member:
        """The member of that id; ``StopIteration`` if there is none."""
        return next(one for one in self.members if one.id == name)

    def most(self, key: str) -> int:
        """How many sessions may have a thing at once."""
        return self.room.get(key, 1)

    def name(self, key: str) -> str:
        """A thing in words."""
        return self.names.get(key, key)


def start_of(one: Session) -> Start:
    """Where a session that is held begins."""
    return Start(one.day, one.at, one.place, one.space, None, one.minutes)


def space_key(place: str, space: str) -> str:
    """The key of a space."""
    return f"space {place} / {space}"


def parties(members: Iterable[tuple[str, Collection[str]]]) -> list[tuple[str, ...]]:
    """Who has to be planned together: members by what they might have, joined where they share a thing."""
    group: dict[str, set[str]] = {}
    owner: dict[str, str] = {}
    for member, keys in members:
        mine = {member}
        for key in keys:
            mine |= group[owner[key]] if key in owner else set()
        for one in mine:
            group[one] = mine
        owner |= dict.fromkeys(keys, member)
    return sorted({tuple(sorted(one)) for one in group.values()})


# ---- a week with less to choose from --------------------------------------------------------------------------


def without_starts(member: Member, barred: Collection[tuple[str, str, int]]) -> Problem:
    """The member's week without starts that would have a thing at a minute: (key, day, minute) each.

    Raises ``ProblemError`` where a pin loses its start.
    """
    minutes: dict[tuple[str, str], list[int]] = defaultdict(list)
    for key, day, minute in barred:
        minutes[key, day].append(minute)

    def keeps(unit: str, start: Start) -> bool:
        return not any(
            begins <= minute < ends
            for key, day, begins, ends in member.held(unit, start)
            for minute in minutes.get((key, day), ())
        )

    return with_starts(member.problem, keeps)


def around(member: Member, full: Spans) -> Problem:
    """The member's week without starts that meet a time at which a thing is full: spans by key and day.

    Raises ``ProblemError`` where a pin loses its start.
    """

    return with_starts(member.problem, lambda unit, start: member.fits(unit, start, full))


def with_starts(problem: Problem, keeps: Keeps) -> Problem:
    """The problem with those starts that its units keep. Raises ``ProblemError`` where a pin loses its start."""
    return replace(
        problem,
        services=tuple(_kept(one, keeps) for one in problem.services),
        groups=tuple(_kept(one, keeps) for one in problem.groups),
    )


def _kept[U: (Service, Group)](unit: U, keeps: Keeps) -> U:
    starts = tuple(start for start in all_starts(unit) if keeps(unit.id, start))
    return replace(unit, starts=starts, windows=())
