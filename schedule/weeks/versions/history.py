"""Other weeks that a planned week is held against: minutes placed already, and the standing pattern."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain

from django.db.models import Q

from accounts.models import Person
from schedule.calendar.selectors.school_days import BuildingCalendar, minutes_of
from schedule.weeks.models import DayItem, SessionAttendee, WeekPlan
from schedule.weeks.pattern import EarlierWeek, Held, latest_of_kind
from schedule.weeks.planning.quotas import Placed
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read, sessions_read
from schedule.weeks.versions.standing import standing_in_force, standing_sessions

LOOK_BACK = 12
"""Weeks that are looked back over: A and B weeks, and turns of a long rotation, come round well within them."""

ONE_DAY = dt.timedelta(days=1)


def minutes_placed(
    teacher: Person,
    monday: dt.date,
    planned: Mapping[dt.date, WeekContent],
    first: dt.date,
    others: Collection[int] = (),
) -> dict[int, list[Placed]]:
    """(date, minutes) of each line's sessions in other weeks from ``first`` on; make-ups answer older minutes.

    Weeks of the run being made count as it plans them, all others as published; of other teachers' weeks the lines
    among ``others``, which are versions of the teacher's own services.
    """
    found: dict[int, list[Placed]] = defaultdict(list)
    published = SessionAttendee.objects.filter(
        Q(session__week__teacher=teacher) | Q(service_line__in=others),
        session__week__status=WeekPlan.Status.PUBLISHED,
        session__date__gte=first,
        session__makes_up=False,
    ).exclude(session__week__monday=monday)
    published = published.exclude(session__week__teacher=teacher, session__week__monday__in=list(planned))
    rows = published.values_list("service_line_id", "session__date", "session__start", "session__end")
    for line, date, start, end in rows:
        found[line].append((date, minutes_of(end) - minutes_of(start)))
    for session in _sessions(content for other, content in planned.items() if other != monday):
        for line in () if session.makes_up else session.lines:
            found[line].append((session.date, session.end - session.start))
    return found


def drafts_waiting(teacher: Person, monday: dt.date, first: dt.date) -> dict[dt.date, WeekContent]:
    """The sessions of the newest draft of every other week from ``first`` on that has no version in force."""
    weeks = WeekPlan.objects.filter(teacher=teacher, monday__gte=first).exclude(monday=monday)
    in_force = weeks.filter(status=WeekPlan.Status.PUBLISHED).values("monday")
    drafts = weeks.filter(status=WeekPlan.Status.DRAFT).exclude(monday__in=in_force)
    newest = dict(drafts.order_by("created_at", "pk").values_list("monday", "pk"))
    sessions = sessions_read(newest.values())
    return {day: WeekContent(sessions=sessions[pk]) for day, pk in newest.items()}


def known_from(teacher: Person, monday: dt.date, planned: Mapping[dt.date, WeekContent]) -> dt.date:
    """The Monday of the first week that was ever planned for the teacher, this one included."""
    published = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday__lt=monday)
    first = published.order_by("monday").values_list("monday", flat=True).first()
    return min([monday, *planned, *([first] if first else [])])


def _sessions(contents: Iterable[WeekContent]) -> Iterable[SessionContent]:
    return (session for content in contents for session in content.sessions)


@dataclass(frozen=True, slots=True)
class WeekBefore:
    """An earlier week: the dates planned in it (each holds something, if only lunch), and its sessions.

    ``standing``: it is none, but the standing timetable in force.
    """

    monday: dt.date
    dates: frozenset[dt.date]
    sessions: tuple[SessionContent, ...]
    standing: bool = False


def weeks_before(
    teacher: Person, monday: dt.date, planned: Mapping[dt.date, WeekContent]
) -> tuple[WeekBefore, ...]:
    """What a week is held against: the standing timetable in force, if there is one, then earlier weeks.

    Those come the latest first, as this run plans them or as they are in force. Make-ups are no pattern.
    """
    rows = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday__lt=monday)
    published = {row.pk: row.monday for row in rows.exclude(monday__in=planned).order_by("-monday")[:LOOK_BACK]}
    dates: dict[int, set[dt.date]] = {pk: set() for pk in published}
    for week, date in DayItem.objects.filter(week__in=published).values_list("week_id", "date").distinct():
        dates[week].add(date)
    sessions = sessions_read(published)
    found = [_week_before(published[pk], sessions[pk], dates[pk]) for pk in published]
    for other, content in planned.items():
        if other < monday:
            found.append(_week_before(other, content.sessions, {one.date for one in content.items}))
    found = sorted(found, key=lambda one: one.monday, reverse=True)[:LOOK_BACK]
    return (*_standing(teacher, monday), *found)


def _standing(teacher: Person, monday: dt.date) -> Iterator[WeekBefore]:
    """The standing timetable that holds in the week."""
    timetable = standing_in_force(teacher, monday)
    if timetable is not None:
        yield WeekBefore(monday, frozenset(), standing_sessions(timetable, monday), standing=True)


def _week_before(monday: dt.date, sessions: Iterable[SessionContent], dates: Iterable[dt.date]) -> WeekBefore:
    usual = tuple(one for one in sessions if not one.makes_up)
    return WeekBefore(monday, frozenset([*dates, *(one.date for one in usual)]), usual)


def standing_pattern(
    weeks: Iterable[WeekBefore],
    monday: dt.date,
    calendars: Mapping[int, BuildingCalendar],
    units_of: Callable[[SessionContent], Iterable[str]],
    spaces: Mapping[int, str] | None = None,
) -> tuple[Held, ...]:
    """What a week is compared with: the standing timetable, and what it says nothing of with the weeks before.

    For such a unit it is the latest week of the same kind (see ``latest_of_kind``). ``units_of``: what a session is
    to be known by; ``spaces``: names by id. Buildings without a calendar are left out. Weeks of another school year
    count, the latest of them, only until this one has a week.
    """
    weeks = tuple(weeks)

    def held(one: WeekBefore) -> tuple[Held, ...]:
        return held_sessions(one.sessions, calendars, units_of, spaces)

    standing = tuple(chain.from_iterable(held(one) for one in weeks if one.standing))
    before = _of_this_year(tuple(one for one in weeks if not one.standing), calendars)
    dates = [monday + n * ONE_DAY for n in range(7)]
    earlier = [EarlierWeek(one.dates, held(one)) for one in before]
    others = latest_of_kind(earlier, lambda building, date: calendars[building].facts(date), dates)
    return standing + _not_among(others, {one.unit for one in standing})


def _not_among(held: Iterable[Held], units: Collection[str]) -> tuple[Held, ...]:
    return tuple(one for one in held if one.unit not in units)


def held_sessions(
    sessions: Iterable[SessionContent],
    calendars: Mapping[int, BuildingCalendar],
    units_of: Callable[[SessionContent], Iterable[str]],
    spaces: Mapping[int, str] | None = None,
) -> tuple[Held, ...]:
    """Sessions by unit, each moment of a unit once; make-ups are no pattern."""
    names = spaces or {}
    found: dict[tuple[str, dt.date, int], Held] = {}
    for one in sessions:
        if one.makes_up or one.building not in calendars:
            continue
        space = names.get(one.space) if one.space is not None else None
        for unit in sorted(set(units_of(one))):
            found[unit, one.date, one.start] = Held(unit, one.date, one.start, one.building, one.cycle_day, space)
    return tuple(found.values())


def _of_this_year(
    weeks: tuple[WeekBefore, ...], calendars: Mapping[int, BuildingCalendar]
) -> tuple[WeekBefore, ...]:
    first = min((date for calendar in calendars.values() for date in calendar.days), default=None)
    mine = tuple(one for one in weeks if first is not None and one.monday + 6 * ONE_DAY >= first)
    return mine or weeks[:1]


def content_in_force(teacher: Person, monday: dt.date) -> WeekContent | None:
    """What is in force in that very week."""
    row = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED, monday=monday).first()
    return content_read(row) if row is not None else None
