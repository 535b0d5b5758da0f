"""Patterns of rotating sessions: on which of their kinds of day, and when, and how one becomes another.

In a pattern a unit has more sessions than a week owes: a week holds the first ones that come in it, so that it is
whole whichever cycle days it lacks.
"""

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from schedule.planner.term.rotation.positions import Kind, Positions
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession

type Pattern = tuple[StandingSession, ...]

MOST_SPARE = 3
"""Kinds of day on which a unit stands beyond as many as a week owes."""

WIDTHS = (0, 15, 60, 480)
"""Minutes around the hour chosen within which a session takes any time."""


@dataclass(frozen=True, slots=True)
class RotatingUnit:
    """A unit all of whose times rotate: what it can do on each kind of day; ``minutes`` are the longest."""

    unit: str
    owed: int
    minutes: int
    members: tuple[str, ...]
    times: Mapping[Kind, tuple[int, ...]]


def rotating_units(kinds: Sequence[AlikeWeeks], positions: Positions) -> list[RotatingUnit]:
    """Groups first, then those that owe most."""
    times: dict[str, dict[Kind, set[int]]] = {}
    steady: set[str] = set()
    for kind in kinds:
        for one in kind.nodes:
            if positions.of(one) >= 0:
                steady.add(one.unit)
            else:
                times.setdefault(one.unit, {}).setdefault((one.place, one.pattern_key), set()).add(one.at)
    found = [
        _unit(unit, kinds, {key: tuple(sorted(ats)) for key, ats in sorted(mine.items())})
        for unit, mine in sorted(times.items())
        if unit not in steady
    ]
    return sorted(found, key=lambda one: (-len(one.members), -one.owed, one.unit))


def _unit(unit: str, kinds: Sequence[AlikeWeeks], times: dict[Kind, tuple[int, ...]]) -> RotatingUnit:
    problems = [kind.week.problem for kind in kinds if kind.week.problem.has_unit(unit)]
    members = tuple(problems[0].members(unit))
    owed = {service.id: service.sessions for problem in problems for service in problem.services}
    minutes = max(problem.minutes_of(unit, start) for problem in problems for start in problem.starts_of(unit))
    return RotatingUnit(unit, min(owed[one] for one in members), minutes, members, times)


class Patterns:
    """Makes patterns, the same for the same chance."""

    def __init__(self, units: Sequence[RotatingUnit], rng: random.Random) -> None:
        self.units, self.rng = units, rng
        self.minutes = {one.unit: one.minutes for one in units}
        self.kinds = sorted({key for one in units for key in one.times})

    def fresh(self) -> Pattern:
        """All units near one hour, on the same kinds of day as far as they can."""
        order = self.rng.sample(self.kinds, len(self.kinds))
        hour, spare = self._hour(), self.rng.randint(1, MOST_SPARE)
        found: list[StandingSession] = []
        for unit in self.units:
            count = sum(one.unit == unit.unit for one in found)
            for key in order:
                if count < unit.owed + spare:
                    placed = self._placed(unit, key, hour, 0, found)
                    found += placed
                    count += len(placed)
        return tuple(found)

    def other(self, pattern: Pattern) -> Pattern:
        """A pattern like this one, changed in one way."""
        change = self.rng.choice(
            (self._one_moved, self._one_moved, self._kind_moved, self._order_changed, self._unit_anew)
        )
        return change(pattern)

    def _one_moved(self, pattern: Pattern) -> Pattern:
        """One session at another time of its kind of day, or of another."""
        gone = self.rng.choice(pattern)
        return self._without(pattern, [gone], same_kind=self.rng.random() < 0.7)

    def _kind_moved(self, pattern: Pattern) -> Pattern:
        """All sessions of one kind of day at about another hour."""
        key = self.rng.choice(self.kinds)
        return self._without(
            pattern, [one for one in pattern if (one.place, one.pattern_key) == key], same_kind=True
        )

    def _unit_anew(self, pattern: Pattern) -> Pattern:
        """All sessions of a unit at about another hour."""
        unit = self.rng.choice(pattern).unit
        return self._without(pattern, [one for one in pattern if one.unit == unit], same_kind=True)

    def _order_changed(self, pattern: Pattern) -> Pattern:
        """Of two kinds of day the one takes the place of the other in the order in which weeks hold them."""
        one, other = self.rng.sample(self.kinds, 2) if len(self.kinds) > 1 else (self.kinds[0], self.kinds[0])
        rank = {key: n for n, key in enumerate(dict.fromkeys((s.place, s.pattern_key) for s in pattern))}
        first, second = rank.get(one, 99), rank.get(other, 99)
        rank[one], rank[other] = second, first
        return tuple(sorted(pattern, key=lambda s: (s.unit, rank.get((s.place, s.pattern_key), 99))))

    def _without(self, pattern: Pattern, gone: Sequence[StandingSession], *, same_kind: bool) -> Pattern:
        """Each of some sessions placed anew, in its turn."""
        hour, width = self._hour(), self.rng.choice(WIDTHS)
        units = {one.unit: one for one in self.units}
        found = [one for one in pattern if one not in set(gone)]
        for session in gone:
            unit, at = units[session.unit], pattern.index(session)
            held = {(one.place, one.pattern_key) for one in found if one.unit == unit.unit}
            free = [key for key in unit.times if key not in held]
            key = (session.place, session.pattern_key) if same_kind else self.rng.choice(free)
            placed = self._placed(unit, key, hour, width, found)
            found[at:at] = placed
        return tuple(found)

    def _placed(
        self, unit: RotatingUnit, key: Kind, hour: int, width: int, others: Sequence[StandingSession]
    ) -> list[StandingSession]:
        """The unit on a kind of day near an hour, where the others leave it room; none where they don't."""
        free = [at for at in unit.times.get(key, ()) if self._is_free(unit, key, at, others)]
        if not free:
            return []
        near = [at for at in free if abs(at - hour) <= width]
        at = self.rng.choice(near) if near else min(free, key=lambda one: abs(one - hour))
        return [StandingSession(unit.unit, key[1], at, key[0])]

    def _is_free(self, unit: RotatingUnit, key: Kind, at: int, others: Iterable[StandingSession]) -> bool:
        """Whether none of the others is held on that kind of day meanwhile."""
        there = [one for one in others if (one.place, one.pattern_key) == key]
        return all(at + unit.minutes <= one.at or one.at + self.minutes[one.unit] <= at for one in there)

    def _hour(self) -> int:
        """Some time at which some unit can stand."""
        unit = self.rng.choice(self.units)
        return self.rng.choice(self.rng.choice(list(unit.times.values())))
