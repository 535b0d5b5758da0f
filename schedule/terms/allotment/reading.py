"""What the planner's problem of a week says of its room: minutes, days at each building, and where a service fits.

Everything here is an estimate, made before any week is planned: the planner has the last word, and says where
something doesn't fit.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from schedule.planner.problem import Day, Problem, Service
from schedule.terms.allotment.question import RoomWeek, WeekStop

BUILDINGS_A_DAY = 2
"""A day is thought of as shared by so many buildings; common practice, no source."""


def room_week(
    monday: dt.date, problem: Problem, shared_out: Collection[str], riding: Mapping[str, int]
) -> RoomWeek:
    """The room of a week beside the services that it owes by itself.

    ``shared_out``: services that stand in the problem only to see where they fit. ``riding``: sessions of a class
    that meets anyway, by its id.
    """
    own = [one for one in problem.services if one.id not in shared_out and one.sessions]
    stops = {place: _stop(problem, own, place) for place in _taught(problem)}
    on_the_road = sum(stop.days * stop.trip for stop in stops.values())
    held = sum(_minutes(problem, own).values())
    return RoomWeek(monday, _open_minutes(problem) - on_the_road - held, stops, riding)


def days_of(service: Service, dates: Collection[dt.date]) -> int:
    """On how many of these dates the service can be held, as far apart as it must be."""
    found, last = 0, None
    for day in sorted({dt.date.fromisoformat(one.day) for one in service.starts}):
        if day in dates and (last is None or (day - last).days >= service.days_apart):
            found, last = found + 1, day
    return found


def place_of(service: Service) -> str | None:
    """The building of the most of its starts; the first of several."""
    counts: dict[str, int] = defaultdict(int)
    for one in service.starts:
        counts[one.place] += 1
    return max(sorted(counts), key=lambda place: counts[place], default=None)


def _taught(problem: Problem) -> list[str]:
    return sorted({place for one in problem.services if (place := place_of(one)) is not None})


def _open_minutes(problem: Problem) -> int:
    """Minutes of the contract days without lunch, meetings and preparation."""
    wished = problem.preparation.minutes if problem.preparation is not None else 0
    return sum(_day_minutes(day) - day.preparation_minutes for day in problem.days) - wished


def _day_minutes(day: Day) -> int:
    blocks = sum(block.end - block.start for block in day.blocks)
    return day.end - day.start - blocks - (day.lunch.minutes if day.lunch is not None else 0)


def _minutes(problem: Problem, own: Iterable[Service]) -> dict[str, int]:
    """Minutes of the teacher's own by building; what may be taken in groups counts as if in pairs at least."""
    grouped = {member for group in problem.groups for member in group.members if len(group.members) > 1}
    found: dict[str, int] = defaultdict(int)
    for one in own:
        each = one.sessions * one.minutes
        found[place_of(one) or ""] += (each + 1) // 2 if one.id in grouped else each
    return found


def _stop(problem: Problem, own: Iterable[Service], place: str) -> WeekStop:
    """A building: days that the week needs there anyway, and what one more would hold and cost."""
    here = [one for one in own if place_of(one) == place]
    open_days = {start.day for one in problem.services for start in one.starts if start.place == place}
    a_day = max(map(_day_minutes, problem.days)) // BUILDINGS_A_DAY
    held = _minutes(problem, here)[place]
    needed = max((one.sessions if one.days_apart else 1 for one in here), default=0)
    days = min(max(needed, _usual_days(problem, place), -(-held // max(a_day, 1))), len(open_days))
    return WeekStop(days, len(open_days), days * a_day - held, a_day, _trip(problem, place))


def _usual_days(problem: Problem, place: str) -> int:
    """Days on which the teacher usually is there."""
    return len({one.day for one in problem.current or () if one.place == place})


def _trip(problem: Problem, place: str) -> int:
    """Minutes that a day at a building costs: to and from the nearest other one, parking and signing in."""
    others = [other.id for other in problem.places if other.id != place]
    there = min((problem.drive(other, place) + problem.drive(place, other) for other in others), default=0)
    at = problem.place(place)
    return there + at.arrive_minutes + at.leave_minutes
