"""Which logged drive belongs to which planned one. Pure; minutes after local midnight.

A log names two buildings and a time, never a planned drive: plans have versions, drives come by hand too.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

type Ends = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Timed:
    """A drive between two buildings, by its id, and when it begins; a log by odometer alone has no time."""

    key: int | str
    ends: Ends
    start: int | None


type Best = tuple[int, int, tuple[tuple[Timed, Timed], ...]]


def match_drives(planned: Sequence[Timed], logged: Sequence[Timed]) -> dict[int | str, Timed]:
    """The log of each planned drive by its key: in order, as many as there are, with the smallest sum of minutes
    between plan and log. A log without a time takes what is left, the first first."""
    by_ends: dict[Ends, tuple[list[Timed], list[Timed]]] = defaultdict(lambda: ([], []))
    for side, rows in enumerate((planned, logged)):
        for row in rows:
            by_ends[row.ends][side].append(row)
    found: dict[int | str, Timed] = {}
    for legs, logs in by_ends.values():
        found |= {leg.key: log for leg, log in _pairs(legs, [log for log in logs if log.start is not None])}
        free = [leg for leg in legs if leg.key not in found]
        found |= {leg.key: log for leg, log in zip(free, _untimed(logs), strict=False)}
    return found


def _untimed(logs: Sequence[Timed]) -> list[Timed]:
    return [log for log in logs if log.start is None]


def _pairs(legs: Sequence[Timed], logs: Sequence[Timed]) -> tuple[tuple[Timed, Timed], ...]:
    """The best pairing in order: most pairs first, then the fewest minutes between them."""
    legs = sorted(legs, key=_start)
    logs = sorted(logs, key=_start)
    before: list[Best] = [(0, 0, ())] * (len(legs) + 1)
    for log in logs:
        row: list[Best] = [(0, 0, ())]
        for number, leg in enumerate(legs, start=1):
            count, cost, pairs = before[number - 1]
            both = (count - 1, cost + abs(_start(leg) - _start(log)), (*pairs, (leg, log)))
            row.append(min(before[number], row[-1], both, key=lambda one: one[:2]))
        before = row
    return before[-1][2]


def _start(one: Timed) -> int:
    return one.start or 0
