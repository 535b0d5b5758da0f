"""Which logged drive belongs to which planned one. Pure; minutes after local midnight.

A log names two buildings and a time; one that was tapped says at which drive. Plans have versions and drives come
by hand too, so the others are known by their time.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

type Ends = tuple[int, int]

MOVED = 30
"""Minutes by which a drive may have moved since somebody read its key; ours, no source."""

KEY = re.compile(r"([0-9]{1,19})-([0-9]{1,19})-([0-9]{1,2}|[0-9]{4})")
"""Both buildings, then the hour and minute; earlier versions counted the drives of a pair."""

HOUR_AND_MINUTE = 4
"""Digits."""


@dataclass(frozen=True, slots=True)
class Timed:
    """A drive between two buildings, by its id, and when it begins; a log by odometer alone has no time.

    `said`: the key of the planned drive at which a log was tapped; empty where nobody said it.
    """

    key: int | str
    ends: Ends
    start: int | None
    said: str = ""


def drive_key(ends: Ends, start: int, alike: int = 0) -> str:
    """What a planned drive is called: its buildings and when it begins; `alike` others have all of that."""
    hour, minute = divmod(start, 60)
    return f"{ends[0]}-{ends[1]}-{hour:02}{minute:02}" + (f"-{alike + 1}" if alike else "")


def drive_meant(key: str, planned: Sequence[Timed]) -> Timed | None:
    """The planned drive that a key names: by itself, else the same drive at another time of a changed day.

    A page that was kept before may say a key of then: of a drive that has moved by up to half an hour, or, from an
    earlier version of the program, which of a pair's drives it is, counted from 1.
    """
    found = next((one for one in planned if one.key == key), None)
    said = KEY.fullmatch(key)
    if found is not None or said is None:
        return found
    ends = f"{said[1]}-{said[2]}"
    alike = sorted((one for one in planned if f"{one.ends[0]}-{one.ends[1]}" == ends), key=_start)
    if len(said[3]) < HOUR_AND_MINUTE:
        return dict(enumerate(alike, start=1)).get(int(said[3]))
    return _nearest(alike, 60 * int(said[3][:2]) + int(said[3][2:]))


def _nearest(among: Sequence[Timed], start: int) -> Timed | None:
    """The one that begins next to a minute, if it is near it."""
    near = [one for one in among if abs(_start(one) - start) <= MOVED]
    return min(near, key=lambda one: abs(_start(one) - start), default=None)


type Best = tuple[int, int, tuple[tuple[Timed, Timed], ...]]


def match_drives(planned: Sequence[Timed], logged: Sequence[Timed]) -> dict[int | str, Timed]:
    """The log of each planned drive by its key: the one that was tapped there, the first if there are more; of the
    others in order, as many as there are, with the smallest sum of minutes between plan and log. A log without a
    time takes what is left, the first first."""
    named = {(leg.key, leg.ends) for leg in planned}
    tapped = [log for log in logged if (log.said, log.ends) in named]
    found: dict[int | str, Timed] = {log.said: log for log in reversed(tapped)}
    legs = _by_ends(leg for leg in planned if leg.key not in found)
    logs = _by_ends(log for log in logged if (log.said, log.ends) not in named)
    for ends, ways in legs.items():
        found |= _by_time(ways, logs[ends])
    return found


def _by_ends(rows: Iterable[Timed]) -> dict[Ends, list[Timed]]:
    found: dict[Ends, list[Timed]] = defaultdict(list)
    for row in rows:
        found[row.ends].append(row)
    return found


def _by_time(legs: Sequence[Timed], logs: Sequence[Timed]) -> dict[int | str, Timed]:
    """Of one pair of buildings: those with a time nearest to it, the others what is left."""
    found: dict[int | str, Timed] = {leg.key: log for leg, log in _pairs(legs, _with_time(logs))}
    free = (leg for leg in legs if leg.key not in found)
    return found | {leg.key: log for leg, log in zip(free, _untimed(logs), strict=False)}


def _with_time(logs: Sequence[Timed]) -> list[Timed]:
    return [log for log in logs if log.start is not None]


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
