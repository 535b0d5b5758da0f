"""What is asked of the planner: one teacher, some days, some buildings, sessions owed.

Everything here is immutable and checked when it is made. Times of day are integer minutes after local
midnight, lengths are integer minutes. Nothing in this package reads a clock, a setting or a database.
``docs/problem-file.md`` describes the same thing as a file, ``docs/planner.md`` what the planner makes of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from schedule.planner.consistency import require_consistent
from schedule.planner.days import Block as Block
from schedule.planner.days import Day as Day
from schedule.planner.days import Lunch as Lunch
from schedule.planner.days import Place as Place
from schedule.planner.pins import completed
from schedule.planner.requirements import require, require_minutes, require_unique


class Goal(StrEnum):
    """What a better week means; goals are met one after the other and never added up."""

    UNPLACED = "unplaced"
    WISHES = "wishes"
    DRIVING = "driving"
    CHANGE = "change"
    SAMENESS = "sameness"


USUAL_TIMES_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.CHANGE, Goal.DRIVING, Goal.SAMENESS)
DRIVING_FIRST = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING, Goal.CHANGE, Goal.SAMENESS)
DEFAULT_GOALS = USUAL_TIMES_FIRST
"""The week is lived by the clock: fewest sessions move, then the driving is the least that this allows."""


@dataclass(frozen=True, slots=True)
class Preparation:
    """A wish for the whole horizon; free time counts in pieces of at least ``smallest_block`` minutes."""

    minutes: int
    smallest_block: int = 1

    def __post_init__(self) -> None:
        require(self.minutes >= 0, "minutes", "Preparation is negative.", "Give 0 or more minutes.")
        require_minutes(self.smallest_block, "smallest_block", 1)


@dataclass(frozen=True, slots=True)
class LongestStretch:
    """A wish: no more than ``minutes`` on end, where lunch or ``break_minutes`` of free time is a break."""

    minutes: int
    break_minutes: int = 10

    def __post_init__(self) -> None:
        require_minutes(self.minutes, "minutes", 1)
        require_minutes(self.break_minutes, "break_minutes", 1)


@dataclass(frozen=True, slots=True)
class Start:
    """One moment at which a session could begin, every rule outside the planner already met.

    ``pattern_key`` is the weekday or cycle day that the standing pattern knows this moment by. ``minutes``
    is the session's length here where it differs from the service's own (an early dismissal).
    """

    day: str
    at: int
    place: str
    space: str | None = None
    pattern_key: str | None = None
    minutes: int | None = None

    def __post_init__(self) -> None:
        require_minutes(self.at, "at")
        if self.minutes is not None:
            require_minutes(self.minutes, "minutes", 1)


@dataclass(frozen=True, slots=True)
class Window:
    """A session may begin at any whole minute from ``earliest`` to ``latest``, both included.

    The rest is as in ``Start``. Good for visits whose time is the teacher's to choose.
    """

    day: str
    earliest: int
    latest: int
    place: str
    space: str | None = None
    pattern_key: str | None = None
    minutes: int | None = None

    def __post_init__(self) -> None:
        require_minutes(self.earliest, "earliest")
        require_minutes(self.latest, "latest")
        require(self.earliest <= self.latest, "latest", "The window ends before it begins.", "Swap the two.")
        if self.minutes is not None:
            require_minutes(self.minutes, "minutes", 1)

    @property
    def starts(self) -> tuple[Start, ...]:
        """Its starts, one a minute. As all times are whole minutes, nothing is lost."""
        return tuple(
            Start(self.day, at, self.place, self.space, self.pattern_key, self.minutes)
            for at in range(self.earliest, self.latest + 1)
        )


HAPPENED = "happened"
"""The code of a bar that nobody can lift: something happened that day."""
SPACE_NOT_THERE = "space_not_there"
"""Nor this one: the space isn't open yet, or is gone."""
AIDE_AWAY = "aide_away"
"""The code of a bar by the hours of the aide whom a student needs."""
NOT_ASKED = frozenset({HAPPENED, SPACE_NOT_THERE})
"""Codes of bars about which nobody is asked."""


@dataclass(frozen=True, slots=True)
class Barred:
    """A start that would exist but for one rule outside the planner. Used only to explain.

    ``text`` says the rule in words ("the gym is in use"), ``ask`` whom it would help to ask.
    """

    day: str
    at: int
    place: str
    reason_code: str
    text: str
    ask: str = ""
    space: str | None = None
    minutes: int | None = None

    def __post_init__(self) -> None:
        require_minutes(self.at, "at")


@dataclass(frozen=True, slots=True)
class Service:
    """Sessions owed in the horizon: ``sessions`` of ``minutes`` each.

    ``days_apart`` is the least difference in day index between two sessions (1: on different days, 0: may be
    twice a day). ``weight`` is the priority of an unplaced minute. ``usual`` are the standing pattern's
    (pattern key, minute) pairs.
    """

    id: str
    minutes: int
    sessions: int
    starts: tuple[Start, ...] = ()
    label: str = ""
    days_apart: int = 1
    weight: int = 1
    students: tuple[str, ...] = ()
    usual: tuple[tuple[str, int], ...] = ()
    barred: tuple[Barred, ...] = ()
    windows: tuple[Window, ...] = ()

    def __post_init__(self) -> None:
        require_minutes(self.minutes, "minutes", 1)
        require(self.sessions >= 0, "sessions", "The number is negative.", "Give 0 or more sessions.")
        require(self.days_apart >= 0, "days_apart", "The number is negative.", "Give 0 or more days.")
        require(self.weight >= 1, "weight", f"{self.weight} is less than 1.", "Give a weight of 1 or more.")


@dataclass(frozen=True, slots=True)
class Group:
    """One more way to cover one session of each member (service ids) at once."""

    id: str
    members: tuple[str, ...]
    minutes: int
    starts: tuple[Start, ...] = ()
    label: str = ""
    windows: tuple[Window, ...] = ()

    def __post_init__(self) -> None:
        require_minutes(self.minutes, "minutes", 1)
        require(len(self.members) >= 1, "members", "The group has no members.", "Name its services.")
        require_unique(self.members, "members")


@dataclass(frozen=True, slots=True)
class Pin:
    """A session that stays: ``unit`` is a service or group id. It must be one of the unit's starts.

    A place and space left out are filled in by the problem, if only one place and length fit; else all that fit
    stay open (``pins``).
    """

    unit: str
    day: str
    at: int
    place: str | None = None
    space: str | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """A session held: in the week now in force, in a plan, or in a draft that a page is editing."""

    unit: str
    day: str
    at: int
    place: str
    space: str | None = None
    minutes: int | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """The whole question. ``drive_minutes[from][to]`` holds every ordered pair of places."""

    places: tuple[Place, ...]
    drive_minutes: Mapping[str, Mapping[str, int]]
    days: tuple[Day, ...]
    services: tuple[Service, ...]
    groups: tuple[Group, ...] = ()
    pins: tuple[Pin, ...] = ()
    current: tuple[Session, ...] | None = None
    setup_minutes: int = 0
    preparation: Preparation | None = None
    longest_stretch: LongestStretch | None = None
    goals: tuple[Goal, ...] = DEFAULT_GOALS
    title: str = ""
    _units: dict[str, Service | Group] = field(init=False, repr=False, compare=False)
    _places: dict[str, Place] = field(init=False, repr=False, compare=False)
    _days: dict[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_unique([place.id for place in self.places], "places")
        require_unique([day.id for day in self.days], "days")
        units: list[Service | Group] = [*self.services, *self.groups]
        require_unique([unit.id for unit in units], "services and groups")
        object.__setattr__(self, "_units", {unit.id: unit for unit in units})
        object.__setattr__(self, "_places", {place.id: place for place in self.places})
        object.__setattr__(self, "_days", {day.id: index for index, day in enumerate(self.days)})
        require_minutes(self.setup_minutes, "setup_minutes")
        require(len(self.days) >= 1, "days", "There are no days.", "Give at least one day.")
        require_consistent(self)
        object.__setattr__(self, "pins", tuple(completed(self, pin) for pin in self.pins))

    # ---- looking things up -------------------------------------------------------------------------------

    def unit(self, unit_id: str) -> Service | Group:
        """The service or group of that id; ``KeyError`` if there is none."""
        return self._units[unit_id]

    def has_unit(self, unit_id: str) -> bool:
        """Whether a service or group has that id."""
        return unit_id in self._units

    def has_place(self, place_id: str) -> bool:
        """Whether a place has that id."""
        return place_id in self._places

    def has_day(self, day_id: str) -> bool:
        """Whether a day of the horizon has that id."""
        return day_id in self._days

    def place(self, place_id: str) -> Place:
        """The place of that id; ``KeyError`` if there is none."""
        return self._places[place_id]

    def day(self, day_id: str) -> Day:
        """The day of that id; ``KeyError`` if there is none."""
        return self.days[self._days[day_id]]

    def day_index(self, day_id: str) -> int:
        """The position of the day in the horizon, from 0; ``KeyError`` if there is none."""
        return self._days[day_id]

    def starts_of(self, unit_id: str) -> tuple[Start, ...]:
        """Every start of the unit, those of its windows too."""
        return all_starts(self._units[unit_id])

    def members(self, unit_id: str) -> tuple[str, ...]:
        """The services that one session of this unit covers."""
        unit = self._units[unit_id]
        return unit.members if isinstance(unit, Group) else (unit.id,)

    def minutes_of(self, unit_id: str, start: Start) -> int:
        """How long a session of the unit lasts at that start."""
        return self._units[unit_id].minutes if start.minutes is None else start.minutes

    def name_of_place(self, place_id: str) -> str:
        """The place's name, or its id where it has none."""
        place = self._places.get(place_id)
        return place_id if place is None else (place.name or place.id)

    def name_of_unit(self, unit_id: str) -> str:
        """The unit's label, or its id where it has none."""
        unit = self._units.get(unit_id)
        return unit_id if unit is None else (unit.label or unit.id)

    def name_of_day(self, day_id: str) -> str:
        """The day's label, or its id where it has none."""
        return self.day(day_id).label or day_id

    def leg_minutes(self, origin: str | None, to: str | None) -> int:
        """Pack up, drive, park and sign in; 0 within one place or where an end of the day is open."""
        if origin is None or to is None or origin == to:
            return 0
        return self._places[origin].leave_minutes + self.drive_minutes[origin][to] + self._places[to].arrive_minutes

    def drive(self, origin: str | None, to: str | None) -> int:
        """Minutes at the wheel alone; 0 within one place or where an end of the day is open."""
        if origin is None or to is None or origin == to:
            return 0
        return self.drive_minutes[origin][to]


def all_starts(unit: Service | Group) -> tuple[Start, ...]:
    """The unit's starts and those of its windows."""
    return unit.starts + tuple(start for window in unit.windows for start in window.starts)
