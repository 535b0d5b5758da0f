"""A period in which a service changes, shared by its versions: what they owe, and each version's part. Pure.

The ledger shares such a period in the same way (docs/minutes-ledger.md): by days, one rounded total. A planner
places whole sessions, so its total is one of sessions.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True, slots=True)
class VersionPart:
    """A version in one period: the sessions that a whole period owes by its terms, and its school days.

    `days` are those of the period on which the version is in force, `week` those among them of the week at hand.
    """

    sessions: int
    days: tuple[dt.date, ...]
    week: tuple[dt.date, ...]


def owed_together(parts: Sequence[VersionPart], known_from: dt.date) -> int:
    """Sessions that the versions owe in the period from `known_from` on, halves rounded up once for all of them.

    The same terms owe the whole, whichever days they are given on; other terms owe their days' share.
    """
    days = sum(len(one.days) for one in parts)
    known = sum(one.sessions * sum(day >= known_from for day in one.days) for one in parts)
    return _half_up(known, days) if days else 0


def part_of_week(count: int, parts: Sequence[VersionPart], own: int) -> int:
    """How many of the week's sessions are the version's own, by its days of the week.

    Parts add up to `count`, whoever works one of them out alone: the versions may be two teachers'.
    """
    weights = [0, *accumulate(one.sessions * len(one.week) for one in parts)]
    whole = weights[-1]
    if not whole:
        return 0
    return _half_up(count * weights[own + 1], whole) - _half_up(count * weights[own], whole)


def _half_up(dividend: int, divisor: int) -> int:
    return (2 * dividend + divisor) // (2 * divisor)
