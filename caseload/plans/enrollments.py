"""Where a student is on a date, and on whose caseload. Pure.

A student is at one school at a time, and beside it at programs that the plan names. What is asked of a date in the
past is answered by what held then, whatever has changed since.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

ONE_DAY = dt.timedelta(days=1)

type Run = tuple[dt.date, dt.date]
"""A first and a last day, both included."""


@dataclass(frozen=True, slots=True)
class Stay:
    """A student at a building: in which grade and class, from which day to which (both included).

    `first` is None where nobody knows since when, `last` until further notice. `program`: beside the student's
    school, as the plan says.
    """

    building_id: int
    first: dt.date | None = None
    last: dt.date | None = None
    grade: str = ""
    home_class_id: int | None = None
    program: bool = False

    def __contains__(self, day: object) -> bool:
        """Whether a date lies in it."""
        return isinstance(day, dt.date) and self.begins <= day <= self.ends

    @property
    def begins(self) -> dt.date:
        """Its first day, the calendar's earliest where nobody knows."""
        return self.first or dt.date.min

    @property
    def ends(self) -> dt.date:
        """Its last day, the calendar's latest until further notice."""
        return self.last or dt.date.max


def last_day_here(stays: Iterable[Stay]) -> dt.date | None:
    """A student's last day at the last of the schools; None until further notice. Programs end with it."""
    ends = max((stay.ends for stay in stays if not stay.program), default=dt.date.max)
    return None if ends == dt.date.max else ends


def stay_on(stays: Iterable[Stay], day: dt.date, building_id: int | None = None) -> Stay | None:
    """Where a student is on a date; None before the first day and after the last.

    `building_id` is the building that a service names: it goes before the student's school while the student is
    there, and the school before a program otherwise. A program that has ended leaves the service at the school, for
    the minutes are owed wherever the student is.
    """
    found = [stay for stay in stays if day in stay]
    return min(
        found,
        key=lambda stay: (stay.building_id != building_id, stay.program, -stay.begins.toordinal()),
        default=None,
    )


def stay_nearest(stays: Sequence[Stay], day: dt.date, building_id: int | None = None) -> Stay:
    """Where a student is on a date, was last before it, or will be first after it.

    For what needs a place whenever it happens, such as the clock by which a session is logged. Raises `ValueError`
    for a student who is nowhere at all.
    """
    found = stay_on(stays, day, building_id)
    if found is not None:
        return found
    ended = [stay for stay in stays if stay.ends < day]
    if ended:
        last = max(stay.ends for stay in ended)
        return stay_nearest(stays, last, building_id)
    coming = min((stay.begins for stay in stays), default=None)
    if coming is None:
        raise ValueError("A student has to be somewhere.")
    return stay_nearest(stays, coming, building_id)


def runs_of(stays: Iterable[Stay], first: dt.date, last: dt.date) -> tuple[Run, ...]:
    """The days between two dates on which a student is anywhere, as few runs as there are.

    A move from one building to the next from one day to the next breaks no run; time away does.
    """
    found: list[Run] = []
    for begin, end in sorted((max(stay.begins, first), min(stay.ends, last)) for stay in stays):
        if begin > end:
            continue
        if found and begin <= _after(found[-1][1]):
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return tuple(found)


def _after(day: dt.date) -> dt.date:
    return day if day == dt.date.max else day + ONE_DAY


def days_where_the_student_is(
    stays: Sequence[Stay], open_days: Mapping[int, Collection[dt.date]], building_id: int | None = None
) -> frozenset[dt.date]:
    """The days in session for a student: each by the calendar of the building where the student is on it.

    `open_days` are the days in session of each building, by its id. A building without an entry has none.
    """
    asked = {day for days in open_days.values() for day in days}
    return frozenset(
        day
        for day in asked
        if (stay := stay_on(stays, day, building_id)) is not None and day in open_days.get(stay.building_id, ())
    )


def school_days_around(
    stays: Sequence[Stay], open_days: Mapping[int, Collection[dt.date]], building_id: int | None = None
) -> frozenset[dt.date]:
    """The same, with the days on which the student is away: those go by the calendar of the nearest building.

    What a student owes of a week or month is a share of its days in session, those before and after included.
    """
    asked = {day for days in open_days.values() for day in days}
    return frozenset(
        day for day in asked if day in open_days.get(stay_nearest(stays, day, building_id).building_id, ())
    )


def buildings_between(
    stays: Iterable[Stay], first: dt.date, last: dt.date, building_id: int | None = None
) -> tuple[int, ...]:
    """Each building where a student is for a service on any day of a stretch, in the order of the days.

    Without days in it (the student has left, or hasn't come yet) it is empty.
    """
    return tuple(dict.fromkeys(place for place, _, _ in stretches_of(stays, first, last, building_id)))


type Stretch = tuple[int, dt.date, dt.date]
"""A building with the first and the last day on which a student is in it."""


def stretches_of(
    stays: Iterable[Stay], first: dt.date, last: dt.date, building_id: int | None = None
) -> tuple[Stretch, ...]:
    """Building by building where a student is for a service between two dates; time away is left out."""
    found: list[Stretch] = []
    for place, begins, ends in _along(tuple(stays), first, last, building_id):
        if found and found[-1][0] == place and begins == _after(found[-1][2]):
            found[-1] = (place, found[-1][1], ends)
        else:
            found.append((place, begins, ends))
    return tuple(found)


def _along(stays: tuple[Stay, ...], first: dt.date, last: dt.date, building_id: int | None) -> Iterator[Stretch]:
    """The stays that hold for a service, one after the other: it can change only where one begins or ends."""
    edges = {first} | {stay.begins for stay in stays} | {_after(stay.ends) for stay in stays}
    turns = sorted(day for day in edges if first <= day <= last)
    for at, day in enumerate(turns):
        stay = stay_on(stays, day, building_id)
        if stay is not None:
            until = turns[at + 1] - ONE_DAY if at + 1 < len(turns) else last
            yield stay.building_id, day, min(until, stay.ends)


def teacher_on(assignments: Iterable[tuple[dt.date | None, int]], day: dt.date) -> int | None:
    """On whose caseload a student is on a date: pairs of a first day (None: nobody knows since when) and a teacher.

    Before the first of them it is the first one's: a caseload has no hole at its beginning.
    """
    dated = sorted((first or dt.date.min, teacher) for first, teacher in assignments)
    begun = [teacher for first, teacher in dated if first <= day]
    return begun[-1] if begun else next((teacher for _, teacher in dated), None)
