"""How a routine's parts fit into the minutes that a class really has on a day.

Pure. Whole minutes throughout; times are minutes after local midnight. Parts first give up minutes down to their
least length, all at the same pace; then parts fall out, first of those that may, then of the others but those that
never do: the shortest whose going is enough, else the longest. What then fits again comes back, and minutes that
are left over go to the parts that can be longer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum


class WhenShort(IntEnum):
    """What happens to a part where time is short, in the order in which parts go."""

    MAY_FALL_OUT = 0
    SHRINKS = 1
    NEVER_FALLS_OUT = 2


@dataclass(frozen=True, slots=True)
class TimedPart:
    """A part as the rules take it: its usual length, the least with which it is worth doing, and what may go."""

    key: int
    minutes: int
    least: int
    when_short: WhenShort = WhenShort.SHRINKS


@dataclass(frozen=True, slots=True)
class PartTime:
    """When a part is on. `usual`: its length on a usual day."""

    key: int
    start: int
    end: int
    usual: int

    @property
    def minutes(self) -> int:
        """Its length."""
        return self.end - self.start

    @property
    def is_shorter(self) -> bool:
        """Whether it gave up minutes."""
        return self.minutes < self.usual


@dataclass(frozen=True, slots=True)
class Fit:
    """A routine in a class's minutes. `out`: keys of what falls out, in the routine's order.

    `left_over`: minutes that no part can take; `over`: minutes by which what never falls out is too long. Of both
    at least one is 0.
    """

    times: tuple[PartTime, ...]
    out: tuple[int, ...]
    left_over: int = 0
    over: int = 0


def fit_parts(parts: Sequence[TimedPart], start: int, end: int) -> Fit:
    """The parts between two moments. Where even the shortest is too long, it runs `over` the end."""
    wanted = max(0, end - start)
    kept = _chosen(parts, wanted)
    lengths = _lengths([part for part in parts if part.key in kept], wanted)
    times, now = [], start
    for part in parts:
        if part.key in lengths:
            times.append(PartTime(part.key, now, now + lengths[part.key], part.minutes))
            now += lengths[part.key]
    out = tuple(part.key for part in parts if part.key not in kept)
    return Fit(tuple(times), out, left_over=max(0, start + wanted - now), over=max(0, now - start - wanted))


def _chosen(parts: Sequence[TimedPart], wanted: int) -> frozenset[int]:
    """Keys of the parts that stay."""
    least = sum(part.least for part in parts)
    gone: list[TimedPart] = []
    for when in (WhenShort.MAY_FALL_OUT, WhenShort.SHRINKS):
        among = [part for part in reversed(parts) if part.when_short == when]
        while least > wanted and among:
            part = _next_out(among, least - wanted)
            among.remove(part)
            gone.append(part)
            least -= part.least
    return frozenset(part.key for part in parts) - _not_back(gone, wanted - least)


def _not_back(gone: Sequence[TimedPart], room: int) -> frozenset[int]:
    """Keys of those for which there is no room again, asked from the last that went."""
    out = set()
    for part in reversed(gone):
        if part.least <= room:
            room -= part.least
        else:
            out.add(part.key)
    return frozenset(out)


def _next_out(among: Sequence[TimedPart], over: int) -> TimedPart:
    """The shortest whose going is enough, else the longest; the first of `among` that are alike."""
    enough = [part for part in among if part.least >= over]
    return min(enough, key=_least) if enough else max(among, key=_least)


def _least(part: TimedPart) -> int:
    return part.least


def _lengths(parts: Sequence[TimedPart], wanted: int) -> Mapping[int, int]:
    """Lengths by key that add up to the minutes that are wanted, as far as the parts allow."""
    missing = sum(part.minutes for part in parts) - wanted
    if missing > 0:
        taken = _shared(missing, [part.minutes - part.least for part in parts])
        return {part.key: part.minutes - less for part, less in zip(parts, taken, strict=True)}
    # A part whose least length is its usual one has the length that it has.
    given = _shared(-missing, [part.minutes if part.least < part.minutes else 0 for part in parts], whole=True)
    return {part.key: part.minutes + more for part, more in zip(parts, given, strict=True)}


def _shared(minutes: int, weights: Sequence[int], *, whole: bool = False) -> list[int]:
    """Minutes shared out in proportion to weights, by largest remainders, the earlier first among equals.

    At most the weights themselves, unless the `whole` is to be shared out whatever it is.
    """
    total = sum(weights)
    minutes = minutes if whole else min(minutes, total)
    if total == 0:
        return [0] * len(weights)
    shares = [minutes * weight // total for weight in weights]
    by_rest = sorted(range(len(weights)), key=lambda at: (-(minutes * weights[at] % total), at))
    for at in by_rest[: minutes - sum(shares)]:
        shares[at] += 1
    return shares
