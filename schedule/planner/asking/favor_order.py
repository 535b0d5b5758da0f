"""In which order favors are tried, and which of them can be granted at once."""

from collections import Counter
from collections.abc import Sequence

from schedule.planner.asking.favor_kinds import EXCUSED, MEETING_MOVED, Favor


def best_of_kinds(favors: Sequence[Favor]) -> list[Favor]:
    """First the best of each kind and place, then the second of each: ten moments of one gym say little."""
    turns = turns_of_kinds(favors)
    return [favors[number] for number in sorted(range(len(favors)), key=lambda one: (turns[one], one))]


def turns_of_kinds(favors: Sequence[Favor]) -> list[int]:
    """For each favor how many of its kind and place stand before it."""
    seen: Counter[tuple[str, str]] = Counter()
    found: list[int] = []
    for favor in favors:
        found.append(seen[favor.code, favor.place])
        seen[favor.code, favor.place] += 1
    return found


def bundles_of(order: Sequence[Favor]) -> list[list[Favor]]:
    """Favors that can be granted at once, by the place that grants them, the fewest (quickest) first."""
    found: dict[str, list[Favor]] = {}
    for favor in order:
        if is_bundled(favor):
            found.setdefault(favor.place, []).append(favor)
    return sorted(found.values(), key=len)


def is_bundled(favor: Favor) -> bool:
    """Meetings can't be granted together with others: one that moves takes time elsewhere."""
    return favor.code not in {EXCUSED, MEETING_MOVED}


def all_bundled(order: Sequence[Favor]) -> list[Favor]:
    """Those that can be granted at once."""
    return [one for one in order if is_bundled(one)]


def others_of_meeting(meetings: Sequence[Favor], favor: Favor) -> list[Favor]:
    """The other favors about the meeting that a favor is about."""
    return [one for one in meetings if one is not favor and _meeting_of(one) == _meeting_of(favor)]


def _meeting_of(favor: Favor) -> tuple[str, int, str]:
    return favor.place, favor.at, favor.days[0].id
