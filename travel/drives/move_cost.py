"""What it costs to move a building: a week's driving as planned, and with one building's work done in another.

Pure. A day is the buildings in the order in which they are visited; the order stays as it is.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

type Drive = tuple[int, int]
NO_MILES = Decimal("0.0")


@dataclass(frozen=True, slots=True)
class DriveCost:
    """One drive: minutes at the wheel, minutes to pack, park and sign in around it, miles (None: unknown)."""

    wheel: int
    around: int
    miles: Decimal | None


@dataclass(frozen=True, slots=True)
class WeekDriving:
    """A week's sums; `miles_known` is false where a distance is missing from them."""

    trips: int = 0
    wheel: int = 0
    around: int = 0
    miles: Decimal = NO_MILES
    miles_known: bool = True

    @property
    def minutes(self) -> int:
        """From packing up to being signed in."""
        return self.wheel + self.around


@dataclass(frozen=True, slots=True)
class MoveCost:
    """A week as planned, with everything at one building done at another, and what of it joins the two now."""

    now: WeekDriving
    moved: WeekDriving
    between: WeekDriving

    @property
    def minutes_more(self) -> int:
        """Minutes more (or fewer) a week, from packing up to being signed in."""
        return self.moved.minutes - self.now.minutes

    @property
    def miles_more(self) -> Decimal | None:
        """Miles more (or fewer) a week; None where a distance isn't known."""
        if not (self.now.miles_known and self.moved.miles_known):
            return None
        return self.moved.miles - self.now.miles

    @property
    def words(self) -> str:
        """The answer in a sentence."""
        minutes = f"{_more(self.minutes_more)} minutes"
        miles = "" if self.miles_more is None else f", {_more(self.miles_more)} miles"
        return f"{minutes}{miles} a week."


def _all_drives(days: Iterable[Sequence[int]]) -> list[Drive]:
    return [drive for day in days for drive in _drives(day)]


def move_cost(
    days: Iterable[Sequence[int]], origin: int, destination: int, cost: Callable[[Drive], DriveCost]
) -> MoveCost:
    """Compare a week's stops with the same week after `origin`'s work moved to `destination`."""
    stops = [tuple(day) for day in days]
    moved = [tuple(destination if one == origin else one for one in day) for day in stops]
    drives = _all_drives(stops)
    return MoveCost(
        now=_sum(drives, cost),
        moved=_sum(_all_drives(moved), cost),
        between=_sum([drive for drive in drives if set(drive) == {origin, destination}], cost),
    )


def _more(number: int | Decimal) -> str:
    """``3 more``, ``3 fewer`` or ``no more``."""
    if not number:
        return "no more"
    return f"{abs(number)} {'more' if number > 0 else 'fewer'}"


def _drives(day: Sequence[int]) -> list[Drive]:
    return [(here, there) for here, there in pairwise(day) if here != there]


def _sum(drives: Sequence[Drive], cost: Callable[[Drive], DriveCost]) -> WeekDriving:
    costs = [cost(drive) for drive in drives]
    return WeekDriving(
        trips=len(costs),
        wheel=sum(one.wheel for one in costs),
        around=sum(one.around for one in costs),
        miles=sum((one.miles for one in costs if one.miles is not None), NO_MILES),
        miles_known=all(one.miles is not None for one in costs),
    )
