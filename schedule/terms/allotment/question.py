"""What is asked when sessions are shared out over the weeks of a term, and what is answered.

Integer minutes; a week is its Monday. Nothing here knows when in a week a session is held: the planner does.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class AllotmentError(ValueError):
    """A question that contradicts itself; the message says where."""


class ShareKind(StrEnum):
    """What sessions are for: owed by a period, owed by a short week, or room for what will be missed."""

    OWED = "owed"
    MAKE_GOOD = "make_good"
    RESERVE = "reserve"


class AllotmentAim(StrEnum):
    """What a better allotment means; aims are met one after the other and never added up."""

    MISSING = "missing"
    MIXED = "mixed"
    OVERFULL = "overfull"
    NOT_MADE_GOOD = "not_made_good"
    BUNCHED = "bunched"
    COST = "cost"
    NO_RESERVE = "no_reserve"
    PACE = "pace"


@dataclass(frozen=True, slots=True)
class WeekStop:
    """A building in one week, as what is owed by the week needs it.

    ``days``: on so many the teacher goes there anyway, on at most ``most`` that is possible. ``free``: minutes that
    those days there leave; ``a_day``: minutes that one more day there holds; ``trip``: what it costs on the road.
    """

    days: int
    most: int
    free: int
    a_day: int
    trip: int


@dataclass(frozen=True, slots=True)
class RoomWeek:
    """A week: minutes that it has for sessions and roads beside what it holds, and its buildings by code.

    ``companies``: sessions that a class holds anyway in this week, by its id: whoever belongs to it joins for free.
    """

    monday: dt.date
    room: int
    stops: Mapping[str, WeekStop] = field(default_factory=dict)
    companies: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WeekChance:
    """A week in which sessions may be held: at ``place``, at least so many (they stay) and at most so many.

    ``days``: school days of the period in this week; ``pace``: more sessions than this are bunched.
    """

    monday: dt.date
    place: str
    most: int
    days: int
    least: int = 0
    pace: int | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.least <= self.most:
            raise AllotmentError(f"At least {self.least} and at most {self.most} sessions in a week contradict.")


@dataclass(frozen=True, slots=True)
class Share:
    """``count`` sessions of ``minutes`` of one service, to be held in the weeks of one period.

    ``line`` tells services apart; ``company``: the class that it belongs to, if any. ``apart``: at most one a day.
    """

    line: int
    kind: ShareKind
    period: str
    minutes: int
    count: int
    chances: tuple[WeekChance, ...]
    company: str = ""
    apart: bool = True

    def __post_init__(self) -> None:
        if self.minutes < 1 or self.count < 0:
            raise AllotmentError(f"{self.count} sessions of {self.minutes} minutes can't be shared out.")
        if len({one.monday for one in self.chances}) < len(self.chances):
            raise AllotmentError("A week stands twice among the chances of one period.")


@dataclass(frozen=True, slots=True)
class AllotmentQuestion:
    """The weeks in order, and what is to be shared out over them."""

    weeks: tuple[RoomWeek, ...]
    shares: tuple[Share, ...]

    def __post_init__(self) -> None:
        known = {week.monday: week for week in self.weeks}
        for share in self.shares:
            for chance in share.chances:
                if chance.monday not in known or chance.place not in known[chance.monday].stops:
                    raise AllotmentError(f"The week of {chance.monday} has no building {chance.place!r}.")


@dataclass(frozen=True, slots=True)
class Allotted:
    """One share with the sessions of each week; weeks without any are left out."""

    share: Share
    weeks: Mapping[dt.date, int]

    @property
    def placed(self) -> int:
        """Sessions that have a week."""
        return sum(self.weeks.values())

    @property
    def missing(self) -> int:
        """Sessions for which no week is left."""
        return max(self.share.count - self.placed, 0)

    @property
    def missing_minutes(self) -> int:
        """The same in minutes."""
        return self.missing * self.share.minutes


@dataclass(frozen=True, slots=True)
class Reached:
    """How well an aim is met, and the least that is possible given the aims before it."""

    aim: AllotmentAim
    value: int
    bound: int

    @property
    def is_proved(self) -> bool:
        """Whether it can't be met better."""
        return self.value <= self.bound


@dataclass(frozen=True, slots=True)
class Allotment:
    """What each week holds. ``trips``: days at a building beyond those that the week needs anyway, by both."""

    allotted: tuple[Allotted, ...]
    trips: Mapping[tuple[dt.date, str], int]
    reached: tuple[Reached, ...]

    @property
    def is_proved(self) -> bool:
        """Whether no other is better."""
        return all(one.is_proved for one in self.reached)

    def of(self, kind: ShareKind) -> tuple[Allotted, ...]:
        """What is allotted of one kind."""
        return tuple(one for one in self.allotted if one.share.kind is kind)

    def value(self, aim: AllotmentAim) -> int:
        """How well an aim is met; 0 where nothing was asked."""
        return next((one.value for one in self.reached if one.aim is aim), 0)


def minutes_in(several: Iterable[Allotted]) -> int:
    """Minutes of all that has a week."""
    return sum(one.placed * one.share.minutes for one in several)
