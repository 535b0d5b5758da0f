"""What could be asked for: every single favor that one person could grant, and the problem as it would be then.

A favor opens starts that one rule bars (a space is freed, a time kept for a student is moved), moves what a class
or a meeting does on one day to another, or stretches one contract day or its lunch a little.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.problem import AIDE_AWAY, NOT_ASKED, Barred, Block, Day, Group, Problem, Service, Start
from schedule.planner.times import MINUTES_PER_DAY, clock

SPACE_CODES = frozenset({"space_not_free", "space_in_use"})
HELD = "student_held"
ELSEWHERE = frozenset({"student_elsewhere", "class_elsewhere"})
CLASS_MOVED = "class_moved"
MEETING_MOVED = "meeting_moved"
EXCUSED = "meeting_excused"
DAY_BEGINS = "day_begins"
DAY_ENDS = "day_ends"
LUNCH_TIME = "lunch_time"
MARGIN = 15
"""Minutes by which a contract day, or its lunch, is stretched: common practice, no source."""

WHO_SETS_DAYS = "whoever sets your contract day"

type Moment = Callable[[str, str, int], str]
"""(day id, place id, minute) in words, such as "in period 4"."""


@dataclass(frozen=True, slots=True)
class MovableClass:
    """Services that are held inside the own time of a class, and the days that it could meet on instead."""

    name: str
    services: tuple[str, ...]
    days: tuple[str, ...]
    ask: str = ""


@dataclass(frozen=True, slots=True)
class MovableMeeting:
    """A block of a day that somebody could move to other days, or excuse the teacher from."""

    day: str
    block: Block
    days: tuple[str, ...]
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Movables:
    """What can move beside starts: classes, meetings, and (unless nobody can be asked) contract days."""

    classes: tuple[MovableClass, ...] = ()
    meetings: tuple[MovableMeeting, ...] = ()
    who_sets_days: str = ""


@dataclass(frozen=True, slots=True)
class Favor:
    """One thing to ask for. ``opened`` are the starts that each unit gains, ``closed`` those that it loses.

    ``days`` are contract days as they would be. ``what`` is the condition in words without a full stop: "If the gym
    at North School were free on ...". ``place`` is empty where no building grants it.
    """

    code: str
    what: str
    ask: str
    place: str
    day: str
    at: int
    opened: tuple[tuple[str, Start], ...] = field(default=(), repr=False)
    closed: tuple[tuple[str, Start], ...] = field(default=(), repr=False)
    days: tuple[Day, ...] = field(default=(), repr=False)

    @property
    def only_adds(self) -> bool:
        """Whether every week that there is without it stays possible with it."""
        return not self.closed and self.code not in {MEETING_MOVED, EXCUSED}


# ---- the problem as it would be --------------------------------------------------------------------------


def granted(problem: Problem, favor: Favor) -> Problem:
    """The problem as it would be if the favor were granted."""
    days = {day.id: day for day in favor.days}
    return replace(
        problem,
        services=tuple(replace(one, starts=_starts_with(one, favor)) for one in problem.services),
        groups=tuple(replace(one, starts=_starts_with(one, favor)) for one in problem.groups),
        days=tuple(days.get(day.id, day) for day in problem.days),
    )


def _starts_with(unit: Service | Group, favor: Favor) -> tuple[Start, ...]:
    lost = {start for one, start in favor.closed if one == unit.id}
    gained = tuple(start for one, start in favor.opened if one == unit.id and start not in unit.starts)
    return tuple(start for start in unit.starts if start not in lost) + gained


def granted_together(problem: Problem, favors: Iterable[Favor]) -> Problem:
    """A problem that allows every week that any one of the favors allows, and more.

    Nothing is closed, and each day is as long as the longest that is asked for. Favors that take a time away from
    somewhere else (``only_adds`` is false) may be among them if what they take is starts; meetings may not.
    """
    for favor in favors:
        wider = tuple(_wider(problem.day(day.id), day) for day in favor.days)
        problem = granted(problem, replace(favor, closed=(), days=wider))
    return problem


def _wider(one: Day, other: Day) -> Day:
    lunch = one.lunch
    if lunch is not None and other.lunch is not None:
        earliest, latest = min(lunch.earliest, other.lunch.earliest), max(lunch.latest_end, other.lunch.latest_end)
        lunch = replace(lunch, earliest=earliest, latest_end=latest)
    return replace(one, start=min(one.start, other.start), end=max(one.end, other.end), lunch=lunch)


# ---- every favor ----------------------------------------------------------------------------------------


def favors_of(problem: Problem, movables: Movables | None = None, moment: Moment | None = None) -> list[Favor]:
    """Every single favor, in a settled order. A space freed at a moment serves every service that it bars then."""
    words = moment or (lambda day, place, at: f"at {clock(at)}")
    movables = movables or Movables()
    return [
        *_barred_favors(problem, words),
        *_class_favors(problem, movables.classes),
        *_meeting_favors(problem, movables.meetings),
        *(_day_favors(problem, movables.who_sets_days) if movables.who_sets_days else []),
    ]


def _barred_favors(problem: Problem, words: Moment) -> list[Favor]:
    found: dict[tuple[str, ...], list[tuple[str, Barred]]] = {}
    owed = [one for one in problem.services if one.sessions > 0]
    for service in owed:
        for barred in (one for one in service.barred if one.reason_code not in NOT_ASKED):
            found.setdefault(_key(barred, words), []).append((service.id, barred))
    return [_barred_favor(problem, rows, words) for _, rows in sorted(found.items())]


def _key(barred: Barred, words: Moment) -> tuple[str, ...]:
    """Bars that one favor lifts have one key."""
    if barred.reason_code in SPACE_CODES:
        space = barred.space or ""
        return "space", barred.day, barred.place, space, words(barred.day, barred.place, barred.at), barred.ask
    if barred.reason_code in {HELD, AIDE_AWAY, *ELSEWHERE}:
        return barred.reason_code, barred.day, barred.place, barred.text, "", barred.ask
    return barred.reason_code, barred.day, barred.place, barred.text, f"{barred.at:04d}", barred.ask


def _barred_favor(problem: Problem, rows: Sequence[tuple[str, Barred]], words: Moment) -> Favor:
    first = min((barred for _, barred in rows), key=lambda one: one.at)
    opened = tuple((service, Start(b.day, b.at, b.place, b.space, None, b.minutes)) for service, b in rows)
    day, where = problem.name_of_day(first.day), problem.name_of_place(first.place)
    when = words(first.day, first.place, first.at)
    if first.reason_code in SPACE_CODES and first.space:
        what = f"If {first.space} at {where} were free {when} on {day}"
    elif first.reason_code == HELD:
        what = f"If the time kept free on {day} at {where} were moved (now: {first.text})"
    elif first.reason_code == AIDE_AWAY:
        what = f"If an aide were there {when} on {day} at {where} (now: {first.text})"
    elif first.reason_code in ELSEWHERE:
        what = f"If {first.ask} held that session at another time than on {day} (now: {first.text})"
    else:
        what = f"If {day} {when} at {where} could be used (now: {first.text})"
    opened += group_starts(problem, opened)
    return Favor(first.reason_code, what, first.ask, first.place, first.day, first.at, opened)


type Slot = tuple[str, int, str, str | None]
"""Day, minute, place and space."""


def group_starts(problem: Problem, opened: Sequence[tuple[str, Start]]) -> tuple[tuple[str, Start], ...]:
    """The starts that groups gain: where every member now has the same moment, place and space, one of them newly.

    All at the group's own length: a start that is shorter for a member is none for the group.
    """
    found: list[tuple[str, Start]] = []
    for group in problem.groups:
        own = {_where(start) for start in group.starts}
        news = {member: [start for unit, start in opened if unit == member] for member in group.members}
        shared = set[Slot]().union(*(_slots(problem, member, starts) for member, starts in news.items())) - own
        for member, starts in news.items():
            shared &= _slots(problem, member, [*starts, *problem.starts_of(member)])
        found += [(group.id, Start(*where)) for where in sorted(shared, key=str)]
    return tuple(found)


def _slots(problem: Problem, unit: str, starts: Sequence[Start]) -> set[Slot]:
    """Moment, place and space of those starts at which a unit has its own length."""
    return {_where(start) for start in starts if start.minutes in {None, problem.unit(unit).minutes}}


def _where(start: Start) -> Slot:
    return start.day, start.at, start.place, start.space


def _class_favors(problem: Problem, classes: Sequence[MovableClass]) -> list[Favor]:
    found: list[Favor] = []
    for one in classes:
        mine = _units_of(problem, one)
        ids = {unit.id for unit in mine}
        held = {start.day for unit in mine for start in unit.starts}
        stays = {pin.day for pin in problem.pins if pin.unit in ids}
        for origin in sorted(held - stays, key=problem.day_index):
            found.extend(_class_moved(problem, one, mine, origin, to) for to in one.days if to not in held)
    return found


def _units_of(problem: Problem, one: MovableClass) -> list[Service | Group]:
    """What is held of a class: its services that owe sessions, and groups of its services alone."""
    services = [unit for unit in problem.services if unit.id in one.services and unit.sessions]
    return [*services, *(group for group in problem.groups if set(group.members) <= set(one.services))]


def _class_moved(
    problem: Problem, one: MovableClass, mine: Sequence[Service | Group], origin: str, to: str
) -> Favor:
    closed = tuple((unit.id, start) for unit in mine for start in unit.starts if start.day == origin)
    opened = tuple((unit, replace(start, day=to, pattern_key=None)) for unit, start in closed)
    first = closed[0][1]
    what = f"If {one.name} met on {problem.name_of_day(to)} instead of {problem.name_of_day(origin)}"
    return Favor(CLASS_MOVED, what, one.ask, first.place, to, first.at, opened, closed)


def _meeting_favors(problem: Problem, meetings: Sequence[MovableMeeting]) -> list[Favor]:
    found: list[Favor] = []
    for one in meetings:
        day, name = problem.day(one.day), one.block.label or "the meeting"
        left = replace(day, blocks=tuple(block for block in day.blocks if block != one.block))
        place, at = one.block.place or "", one.block.start
        what = f"If you were excused from {name} on {problem.name_of_day(one.day)} at {clock(at)}"
        found.append(Favor(EXCUSED, what, one.ask, place, one.day, at, days=(left,)))
        for to in one.days:
            other = problem.day(to)
            if to == one.day or not _fits(other, one.block):
                continue
            what = f"If {name} were on {problem.name_of_day(to)} instead of {problem.name_of_day(one.day)}"
            more = replace(other, blocks=(*other.blocks, one.block))
            found.append(Favor(MEETING_MOVED, what, one.ask, place, to, at, days=(left, more)))
    return found


def _fits(day: Day, block: Block) -> bool:
    inside = day.start <= block.start and block.end <= day.end
    return inside and all(block.end <= one.start or one.end <= block.start for one in day.blocks)


def _day_favors(problem: Problem, ask: str) -> list[Favor]:
    found: list[Favor] = []
    for day in problem.days:
        name = problem.name_of_day(day.id)
        if day.start >= MARGIN:
            what = f"If your day could begin {MARGIN} minutes earlier on {name}"
            days = (replace(day, start=day.start - MARGIN),)
            found.append(Favor(DAY_BEGINS, what, ask, "", day.id, day.start, days=days))
        if day.end + MARGIN <= MINUTES_PER_DAY:
            what = f"If your day could end {MARGIN} minutes later on {name}"
            days = (replace(day, end=day.end + MARGIN),)
            found.append(Favor(DAY_ENDS, what, ask, "", day.id, day.end, days=days))
        if day.lunch is not None:
            lunch = day.lunch
            latest = min(MINUTES_PER_DAY, lunch.latest_end + MARGIN)
            wider = replace(lunch, earliest=max(0, lunch.earliest - MARGIN), latest_end=latest)
            what = f"If lunch on {name} could be up to {MARGIN} minutes earlier or later than now"
            found.append(
                Favor(LUNCH_TIME, what, ask, "", day.id, lunch.earliest, days=(replace(day, lunch=wider),))
            )
    return found
