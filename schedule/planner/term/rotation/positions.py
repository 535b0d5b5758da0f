"""Which kinds of day always come on the same day of the week (steady), and which rotate over it.

A *position* is a day of the week by its number in a whole week. "Monday" and "A Monday" are steady, "Day 3" comes
on another position each week.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession

type Kind = tuple[str, str]
"""A place and a kind of day there."""


@dataclass(frozen=True, slots=True)
class Positions:
    """``steady``: the position of each kind of day that has one.

    ``days``: by kind of week, the position of each day, -1 where none is known.
    """

    count: int
    steady: dict[Kind, int]
    days: tuple[tuple[int, ...], ...]

    def of(self, session: StandingSession) -> int:
        """Where a session stands; -1 for one that rotates."""
        return self.steady.get((session.place, session.pattern_key), -1)


def positions_of(kinds: Sequence[AlikeWeeks]) -> Positions:
    """The positions of the days, by what whole weeks say."""
    count = max(len(kind.model.days) for kind in kinds)
    seen: dict[Kind, set[int]] = {}
    for kind in kinds:
        if len(kind.model.days) == count:
            for day, here in enumerate(_kinds_by_day(kind)):
                for one in here:
                    seen.setdefault(one, set()).add(day)
    steady = {key: min(days) for key, days in seen.items() if len(days) == 1}
    return Positions(count, steady, tuple(_positions(kind, count, steady) for kind in kinds))


def _kinds_by_day(kind: AlikeWeeks) -> list[set[Kind]]:
    found: list[set[Kind]] = [set() for _ in kind.model.days]
    for session, spots in kind.nodes.items():
        for day, _ in spots:
            found[day].add((session.place, session.pattern_key))
    return found


def _positions(kind: AlikeWeeks, count: int, steady: dict[Kind, int]) -> tuple[int, ...]:
    if len(kind.model.days) == count:
        return tuple(range(count))
    found: list[int] = []
    for here in _kinds_by_day(kind):
        known = sorted(steady[one] for one in here if one in steady)
        # What rotates may look steady where few whole weeks tell: the position that most of the day says.
        found.append(max(set(known), key=known.count) if known else -1)
    return tuple(found)
