"""A district as plain arrays, which compiled search runs over, and one assignment in the making.

This is a rougher picture of a week than the planner's: a session takes its minutes rounded up to the building's
bells, lunch is had where it fits, blocks and preparation are minutes of the day. It tells quickly which of two
assignments is likelier to be good; what a proposal says of itself is priced by the planner afterwards.
"""

import numpy as np

from schedule.planner.assign.answer import Worth
from schedule.planner.assign.bundles import Bundle
from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.assign.rough.terrain import END, FORBIDDEN, Floats, Ints, Terrain
from schedule.planner.days import Day


def ground_of(question: Staffing, parts: tuple[Bundle, ...], worth: Worth, slack: dict[str, int]) -> Terrain:
    """The district in arrays. ``slack``: minutes a day, by teacher id, that are left over on purpose."""
    number = {one.id: n for n, one in enumerate(question.places)}
    drive = _drives(question)
    services = [one for part in parts for one in part.services]
    teachers = question.teachers
    return Terrain(
        drive=drive,
        leg=_legs(question, drive),
        opens=_hours(question, [one.opens for one in question.sites]),
        closes=_hours(question, [one.closes for one in question.sites]),
        days=_days(teachers, number, slack),
        services=np.array([_service(question, one, number) for one in services], dtype=np.int64).reshape(-1, 5),
        may=_may(teachers, services),
        first=np.cumsum([0] + [len(part.services) for part in parts]).astype(np.int64),
        extra=_extra(teachers, parts, worth),
        most=_most(teachers),
        contract=_contracts(teachers),
        near=_near(parts, drive, number),
        worth=np.array([worth.driving, worth.uneven, worth.meeting], dtype=np.float64),
    )


def _drives(question: Staffing) -> Ints:
    places = [one.id for one in question.places]
    return np.array(
        [[0 if a == b else question.drive_minutes[a][b] for b in places] for a in places], dtype=np.int64
    )


def _legs(question: Staffing, drive: Ints) -> Ints:
    leave = np.array([one.leave_minutes for one in question.places], dtype=np.int64)
    arrive = np.array([one.arrive_minutes for one in question.places], dtype=np.int64)
    leg = drive + leave[:, None] + arrive[None, :]
    np.fill_diagonal(leg, 0)
    return leg


def _hours(question: Staffing, hours: list[int]) -> Ints:
    """By place; nobody is served at a base."""
    return np.array(hours + [0] * len(question.bases), dtype=np.int64)


def _most(teachers: tuple[Itinerant, ...]) -> Ints:
    return np.array([2**40 if one.most_minutes is None else one.most_minutes for one in teachers], dtype=np.int64)


def _contracts(teachers: tuple[Itinerant, ...]) -> Floats:
    contract = np.array([one.contract_minutes for one in teachers], dtype=np.float64)
    return contract / max(1.0, float(contract.sum()))


def _days(teachers: tuple[Itinerant, ...], number: dict[str, int], slack: dict[str, int]) -> Ints:
    found = np.zeros((len(teachers), max((len(one.days) for one in teachers), default=0), 8), dtype=np.int64)
    found[:, :, END] = -1
    for t, teacher in enumerate(teachers):
        for d, day in enumerate(teacher.days):
            found[t, d] = _day(day, number, slack.get(teacher.id, 0))
    return found


def _day(day: Day, number: dict[str, int], slack: int) -> list[int]:
    lunch = (0, 0, day.end) if day.lunch is None else (day.lunch.minutes, day.lunch.earliest, day.lunch.latest_end)
    off = sum(block.end - block.start for block in day.blocks) + day.preparation_minutes + slack
    ends = [-1 if one is None else number[one] for one in (day.start_place, day.end_place)]
    return [day.start, day.end, *ends, *lunch, off]


def _service(question: Staffing, service: YearService, number: dict[str, int]) -> list[int]:
    load = load_at(question.site(service.place), service.minutes)
    return [number[service.place], load, service.minutes, service.sessions, service.days_apart]


def load_at(site: Site, minutes: int) -> int:
    """Minutes from one bell to the next one after a session of so many minutes, as it mostly is."""
    bells = site.starts(1)
    waits = sorted(
        min((bell for bell in bells if bell >= begin + minutes), default=begin + minutes) - begin for begin in bells
    )
    return waits[len(waits) // 2] if waits else minutes


def _may(teachers: tuple[Itinerant, ...], services: list[YearService]) -> Ints:
    width = max((len(one.days) for one in teachers), default=0)
    found = np.zeros((len(services), len(teachers), width), dtype=np.int64)
    for s, service in enumerate(services):
        known = {start.day for start in service.starts}
        for t, teacher in enumerate(teachers):
            for d, day in enumerate(teacher.days):
                found[s, t, d] = not known or day.id in known
    return found


def _extra(teachers: tuple[Itinerant, ...], parts: tuple[Bundle, ...], worth: Worth) -> Floats:
    found = np.full((len(parts), len(teachers)), FORBIDDEN)
    for b, part in enumerate(parts):
        for t, teacher in enumerate(teachers):
            if teacher.id in part.allowed:
                found[b, t] = worth.change * part.changes[teacher.id]
    return found


def _near(parts: tuple[Bundle, ...], drive: Ints, number: dict[str, int]) -> Ints:
    at = np.array([number[part.services[0].place] for part in parts], dtype=np.int64)
    away = drive[np.ix_(at, at)] + drive[np.ix_(at, at)].T
    return np.argsort(away, axis=1, kind="stable").astype(np.int64)
