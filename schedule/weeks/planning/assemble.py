"""The parts of a week put together as one planning problem."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.models import ContractDay, TeacherRules, TimedMeeting
from schedule.calendar.starts import spoken
from schedule.planner.pins import pinned_start
from schedule.planner.problem import (
    DEFAULT_GOALS,
    Day,
    Goal,
    Group,
    Pin,
    Place,
    Preparation,
    Problem,
    Service,
    Session,
    Start,
)
from schedule.planner.requirements import ProblemError
from schedule.weeks.pattern import Carried, Held, carry_over, kind_of, usual_times
from schedule.weeks.planning.line_week import LineWeek, grades_of
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.planning.others.drafts import Around, Room, moments_of
from schedule.weeks.planning.quotas import Owed
from schedule.weeks.planning.rest.moment import Rest
from schedule.weeks.planning.rules import longest_stretch, planner_days, weekly_preparation
from schedule.weeks.planning.sources import Follow, Sources
from schedule.weeks.planning.units import UnitInfo, Units
from schedule.weeks.versions.content import SessionContent, WeekContent
from schedule.weeks.versions.history import held_sessions, standing_pattern, weeks_before
from travel.drives.selectors import WHOLE_DAY, Clock, DriveTable, drive_table
from travel.drives.time_of_day import DAY_MINUTES
from travel.places.models import Building

NO_PLACE = ""
"""The place of a pin in a building that the week doesn't go to: it fits no start, which is then said."""

type OwedCounts = Mapping[int, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Base:
    """What a week is loaded against.

    ``planned``: weeks of the same run, by Monday, that count instead of published ones. ``in_force``: the content
    that changes are counted against (``None``: the standing pattern). ``pins``: sessions that stay. ``owed``:
    sessions and minutes a line where they are settled (a draft being edited), else they are worked out.
    ``counts``: what this week owes by line where a term has shared it out; other lines owe what they owe anyway.
    ``make_ups`` are wanted beside what is owed. ``keep_groups`` and ``keep_buildings`` are in the problem even if
    nothing else brings them in. ``between``: on dates outside it nothing new is placed; what is in force there
    stays, and without it they are no days at all. ``rest``: only what comes after a moment is planned; ``in_force``
    is then what the week in force holds of it. ``leeway``: minutes before and after the contract day in which
    starts are sought too; nothing is planned there, as the day stays what it is. ``goals``: in their order.
    ``around``: drafts of others, which only planning goes around. ``together``: teachers who are planned together,
    so that their weeks in force are in nobody's way. ``follow``: whether joint sessions go by what others hold.
    """

    planned: Mapping[dt.date, WeekContent] = field(default_factory=dict)
    in_force: WeekContent | None = None
    pins: tuple[SessionContent, ...] = ()
    owed: OwedCounts | None = None
    counts: Mapping[int, Owed] = field(default_factory=dict)
    make_ups: Mapping[MakeUp, int] = field(default_factory=dict)
    keep_groups: tuple[str, ...] = ()
    keep_buildings: tuple[int, ...] = ()
    between: tuple[dt.date, dt.date] | None = None
    rest: Rest | None = None
    leeway: int = 0
    goals: tuple[Goal, ...] = DEFAULT_GOALS
    around: Around = field(default_factory=Around)
    together: frozenset[int] = frozenset()
    follow: Follow = field(default_factory=Follow)

    def takes(self, date: dt.date) -> bool:
        """Whether sessions may be placed on the date."""
        return self.between is None or self.between[0] <= date <= self.between[1]

    def left_of(self, line: int, owed: Owed) -> Owed:
        """What is planned of what a line owes."""
        return owed if self.rest is None else self.rest.still_owed(line, owed)

    @property
    def settled(self) -> tuple[SessionContent, ...]:
        """Sessions that stay: those outside the dates being planned, then pins that are none of these."""
        outside = [one for one in (self.in_force.sessions if self.in_force else ()) if not self.takes(one.date)]
        known = {(one.key, one.date, one.start) for one in outside}
        inside = (one for one in self.pins if (one.key, one.date, one.start) not in known and self.takes(one.date))
        return (*outside, *inside)


@dataclass(frozen=True, slots=True)
class WeekInput:
    """A week's problem and the way back from its ids to rows. ``problems``: lines that can't be counted."""

    monday: dt.date
    problem: Problem
    units: Units
    lines: Mapping[int, LineWeek]
    buildings: Mapping[str, Building]
    spaces: Mapping[tuple[str, str], int]
    drives: DriveTable
    sources: Sources
    notes: tuple[str, ...]
    pinned: frozenset[tuple[str, dt.date, int]] = frozenset()
    problems: tuple[str, ...] = ()
    rest: Rest | None = None

    def info(self, unit: str) -> UnitInfo:
        """What a unit is made of; ``KeyError`` if it is none of this week's."""
        return self.units.infos[unit]

    def facts(self, building: int, date: dt.date) -> DayFacts:
        """What a date is in a building."""
        return self.sources.facts(building, date)

    def grades_of(self, session: SessionContent) -> frozenset[str]:
        """By which grades a session's days are named: its unit's, or its lines' where the week has no such unit."""
        info = self.units.infos.get(session.key)
        if info is not None:
            return info.grades
        return grades_of(self.lines[line] for line in session.lines if line in self.lines)


@dataclass(frozen=True, slots=True)
class TeacherRows:
    """A teacher's own rows."""

    person: Person
    rules: TeacherRules
    contract: dict[int, ContractDay]
    meetings: tuple[TimedMeeting, ...]
    busy: Mapping[dt.date, tuple[tuple[int, int], ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Parts:
    """What has been loaded of a week."""

    monday: dt.date
    buildings: tuple[Building, ...]
    sources: Sources
    units: Units
    owing: Sequence[LineWeek]
    problems: tuple[str, ...]

    @property
    def facts(self) -> dict[tuple[int, dt.date], DayFacts]:
        """Every building taught in, on every date planned."""
        return {
            (building, date): self.sources.facts(building, date)
            for building in self.sources.calendars
            for date in self.sources.dates
        }


def assemble(mine: TeacherRows, parts: Parts, base: Base) -> WeekInput:
    """The week's problem; raises ``ApplicationError`` where rules contradict each other or a drive is missing."""
    drives = drive_table(mine.person, parts.buildings, clock=_contract_hours(mine.contract))
    drives.refuse_gaps()
    days = planner_days(parts.sources.dates, mine.contract, mine.rules, mine.meetings, mine.busy)
    days = replace(days, days=_days_left(days.days, parts, base.rest))
    held = _pattern(mine, parts, base)
    room = _room(parts, base)
    services = tuple(
        replace(one, usual=held.usual.get(one.id, ()), starts=_open_starts(one, base))
        for one in base.around.units(parts.units.services, room)
    )
    try:
        problem = Problem(
            places=tuple(_place(building) for building in parts.buildings),
            drive_minutes=_matrix(parts.buildings, drives),
            days=days.days,
            services=services,
            groups=tuple(
                replace(one, starts=_open_starts(one, base)) for one in base.around.units(parts.units.groups, room)
            ),
            current=held.current,
            setup_minutes=mine.rules.setup_minutes,
            preparation=_preparation(mine, len(days.days), base.rest),
            longest_stretch=longest_stretch(mine.rules),
            goals=base.goals,
            title=f"Week of {date_words(parts.monday)}",
        )
        pins, dropped = _pins(problem, parts, base.settled)
        problem = replace(problem, pins=(*pins, *_joint_pins(problem, parts.units, pins)))
    except ProblemError as error:
        raise ApplicationError(f"{error.message} {error.remedy}", code="rules_contradict") from error
    return WeekInput(
        monday=parts.monday,
        problem=problem,
        units=parts.units,
        lines={one.line.pk: one for one in parts.owing},
        buildings={building.code: building for building in parts.buildings},
        spaces=_space_ids(parts),
        drives=drives,
        sources=parts.sources,
        notes=(*parts.problems, *days.notes, *parts.units.notes, *dropped, *drives.warnings),
        pinned=frozenset((one.key, one.date, one.start) for one in base.settled if one.pinned),
        problems=parts.problems,
        rest=base.rest,
    )


def _room(parts: Parts, base: Base) -> Room:
    stay = (*(base.in_force.sessions if base.in_force else ()), *base.settled)
    buildings = {one.code: one for one in parts.buildings}
    return Room(parts.units.infos, parts.sources, buildings, _space_ids(parts), moments_of(stay))


def _days_left(days: Sequence[Day], parts: Parts, rest: Rest | None) -> tuple[Day, ...]:
    """The days, the first of a rest begun where that does."""
    if rest is None:
        return tuple(days)
    places = {one.pk: one.code for one in parts.buildings}
    return tuple(rest.day(day, places) for day in days)


def _preparation(mine: TeacherRows, days: int, rest: Rest | None) -> Preparation:
    """The wish over the week, less what the day has had already."""
    wish = weekly_preparation(mine.rules, days, len(mine.contract))
    return wish if rest is None else replace(wish, minutes=max(0, wish.minutes - rest.prepared))


def _open_starts(unit: Service | Group, base: Base) -> tuple[Start, ...]:
    """The starts on dates being planned, and those that a session which stays is held at."""
    if base.between is None:
        return unit.starts
    held = {(one.date.isoformat(), one.start) for one in base.settled if one.key == unit.id}
    return tuple(
        one for one in unit.starts if base.takes(dt.date.fromisoformat(one.day)) or (one.day, one.at) in held
    )


def _contract_hours(contract: Mapping[int, ContractDay]) -> Clock:
    """One table serves the whole week, so it holds at the worst time from the first start to the last end."""
    if not contract:
        return WHOLE_DAY
    first, last = min(day.start for day in contract.values()), max(day.end for day in contract.values())
    return Clock(first=60 * first.hour + first.minute, last=60 * last.hour + last.minute)


def _place(building: Building) -> Place:
    return Place(building.code, building.name, building.arrive_minutes, building.leave_minutes)


def _matrix(buildings: Sequence[Building], drives: DriveTable) -> dict[str, dict[str, int]]:
    """Minutes at the wheel; a whole day where it would be more, which a warning of the table names."""
    return {
        one.code: {
            other.code: min(drives.minutes(one.pk, other.pk), DAY_MINUTES)
            for other in buildings
            if other.pk != one.pk
        }
        for one in buildings
    }


def _space_ids(parts: Parts) -> dict[tuple[str, str], int]:
    codes = {building.pk: building.code for building in parts.buildings}
    return {
        (codes[building], space.name): space.pk
        for building, spaces in parts.sources.spaces.items()
        for space in spaces
    }


# ---- the standing pattern --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Standing:
    """Sessions that the plan should keep, and usual times of each service."""

    current: tuple[Session, ...] | None
    usual: Mapping[str, tuple[tuple[str, int], ...]]


def _pattern(mine: TeacherRows, parts: Parts, base: Base) -> _Standing:
    weeks = weeks_before(mine.person, parts.monday, base.planned)
    calendars, units_of, names = parts.sources.calendars, _units_of(parts), _space_names(parts)
    usual = standing_pattern(weeks, parts.monday, calendars, units_of, names)
    times = usual_times((one, kind_of(one, parts.sources.facts)) for one in usual)
    if base.in_force is not None:
        held = held_sessions(base.in_force.sessions, calendars, units_of, names)
        kept = [_as_session(one, parts) for one in held if one.date in parts.sources.dates]
        return _Standing(tuple(kept), times)
    if not weeks:
        return _Standing(None, {})
    owed = {service.id: service.sessions for service in parts.units.services}
    carried = carry_over(usual, parts.facts, owed)
    return _Standing(tuple(_as_session(one, parts) for one in carried), times)


def _units_of(parts: Parts) -> Callable[[SessionContent], Iterable[str]]:
    """The services that a session's lines belong to this week."""
    unit_of_line = parts.units.unit_of_line()
    return lambda one: (unit_of_line[line] for line in one.lines if line in unit_of_line)


def _space_names(parts: Parts) -> dict[int, str]:
    return {space.pk: space.name for spaces in parts.sources.spaces.values() for space in spaces}


def _as_session(one: Held | Carried, parts: Parts) -> Session:
    code = parts.sources.calendars[one.building].building.code
    return Session(one.unit, one.date.isoformat(), one.at, code, one.space)


# ---- pins ------------------------------------------------------------------------------------------------


def _pins(
    problem: Problem, parts: Parts, wanted: Sequence[SessionContent]
) -> tuple[tuple[Pin, ...], tuple[str, ...]]:
    """Pins that can hold, and a sentence for each that can't anymore."""
    pins: list[Pin] = []
    notes: list[str] = []
    left = {service.id: service.sessions for service in problem.services}
    names = _space_names(parts)
    codes = {building.pk: building.code for building in parts.buildings}
    for one in wanted:
        space = names.get(one.space) if one.space is not None else None
        pin = Pin(one.key, one.date.isoformat(), one.start, codes.get(one.building, NO_PLACE), space)
        why = _why_not(problem, pin, left)
        if why:
            when = spoken((one.start, one.end))
            notes.append(f"{problem.name_of_unit(one.key)}, {one.date:%A} {when}, can't stay pinned: {why}.")
            continue
        pins.append(pin)
        for member in problem.members(pin.unit):
            left[member] -= 1
    return tuple(pins), tuple(notes)


def _joint_pins(problem: Problem, units: Units, pins: Sequence[Pin]) -> Iterator[Pin]:
    """The sessions that stand beside another teacher's, of services that have others too.

    One that is pinned then already stays; one too close to another pin is left to the search.
    """
    for service in problem.services:
        mine = [pin for pin in pins if service.id in problem.members(pin.unit)]
        kept = [
            _pin_at(service.id, start) for start in units.infos[service.id].joint.kept if start in service.starts
        ]
        new = [pin for pin in kept if not any(_are_close(problem, service, pin, other) for other in mine)]
        yield from new[: service.sessions - len(mine)]


def _pin_at(unit: str, start: Start) -> Pin:
    return Pin(unit, start.day, start.at, start.place, start.space)


def _are_close(problem: Problem, service: Service, one: Pin, other: Pin) -> bool:
    days = abs(problem.day_index(one.day) - problem.day_index(other.day))
    return days < max(1, service.days_apart)


def _bars_at(problem: Problem, pin: Pin) -> Iterator[str]:
    """What bars the pinned moment."""
    services = {service.id: service for service in problem.services}
    for member in problem.members(pin.unit):
        for bar in services[member].barred:
            if (bar.day, bar.at) == (pin.day, pin.at):
                yield bar.text


def _why_not(problem: Problem, pin: Pin, left: Mapping[str, int]) -> str:
    """Why a pin can't hold, or nothing."""
    if not problem.has_unit(pin.unit):
        return "the service isn't owed this week"
    if pinned_start(problem, pin) is None:
        return next(_bars_at(problem, pin), "it no longer has such a start")
    if any(left[member] < 1 for member in problem.members(pin.unit)):
        return "more sessions are pinned than owed"
    return ""
