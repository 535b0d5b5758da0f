"""A student's usual times in the timetables in force, and services that wait for one."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence

from accounts.models import Person
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.selectors.school_days import minutes_of
from schedule.terms.usual import WEEK, NoUsualTimeView, UsualTimeView, first_without, runs_of
from schedule.terms.words import when_words
from schedule.weeks.models import TimetableSession, TimetableVersion
from schedule.weeks.versions.standing import standing_among

BY_WEEK = (ServiceLine.Unit.DAY, ServiceLine.Unit.WEEK, ServiceLine.Unit.CYCLE)
"""What owes in each of its weeks; what is owed by the month or longer has a time only in some."""

type _Weeks = Mapping[dt.date, TimetableVersion]
"""By Monday, the timetable that counts."""


def usual_times(
    viewer: Person, student: Student, today: dt.date
) -> tuple[tuple[UsualTimeView, ...], tuple[NoUsualTimeView, ...]]:
    """Usual times from this week on, the earliest first, and services without one in a timetable in force.

    By those timetables that the viewer may see: a teacher's own, and for a coordinator the district's.
    """
    monday = today - dt.timedelta(days=today.weekday())
    rows = TimetableVersion.objects.visible_to(viewer).filter(district=student.district, last_day__gte=monday)
    by_teacher: dict[int, list[TimetableVersion]] = {}
    for one in rows.in_force().select_related("teacher"):
        by_teacher.setdefault(one.teacher_id, []).append(one)
    times: list[UsualTimeView] = []
    without: list[NoUsualTimeView] = []
    for mine in by_teacher.values():
        weeks = _weeks(mine, monday)
        sessions = _sessions(mine, student)
        times += _times(weeks, sessions, monday)
        without += _without(weeks, sessions, student)
    return tuple(sorted(times, key=lambda one: (one.since or monday, one.until))), tuple(without)


def _weeks(timetables: Sequence[TimetableVersion], monday: dt.date) -> _Weeks:
    last = max(one.last_day for one in timetables)
    mondays = (monday + number * WEEK for number in range((last - monday).days // 7 + 1))
    found = ((one, standing_among(timetables, one)) for one in mondays)
    return {one: timetable for one, timetable in found if timetable is not None}


def _sessions(timetables: Sequence[TimetableVersion], student: Student) -> dict[int, list[TimetableSession]]:
    """The student's sessions by timetable."""
    rows = TimetableSession.objects.filter(timetable__in=timetables, attendees__student=student).distinct()
    found: dict[int, list[TimetableSession]] = {one.pk: [] for one in timetables}
    for row in rows.select_related("building", "space").prefetch_related("attendees__service_line"):
        found[row.timetable_id].append(row)
    return found


def _times(
    weeks: _Weeks, sessions: Mapping[int, Sequence[TimetableSession]], monday: dt.date
) -> Iterator[UsualTimeView]:
    rows = {_spot(row): row for mine in sessions.values() for row in mine}
    held = {one: [_spot(row) for row in sessions[timetable.pk]] for one, timetable in weeks.items()}
    for spot, runs in runs_of(held).items():
        row = rows[spot]
        for first, last in runs:
            yield UsualTimeView(
                when=when_words(row.weekday, row.cycle_day, minutes_of(row.start)),
                end=row.end,
                building_name=row.building.name,
                space_name=row.space.name if row.space else "",
                setting_label=row.get_setting_display(),
                teacher_name=str(weeks[first].teacher),
                since=first if first > monday else None,
                until=min(weeks[last].last_day, last + dt.timedelta(days=6)),
            )


type _Spot = tuple[int | None, str, dt.time, int, int | None]


def _spot(row: TimetableSession) -> _Spot:
    return row.weekday, row.cycle_day, row.start, row.building_id, row.space_id


def _without(
    weeks: _Weeks, sessions: Mapping[int, Sequence[TimetableSession]], student: Student
) -> Iterator[NoUsualTimeView]:
    """Services of the timetables' teacher that are owed by the week and aren't in them."""
    stands = {timetable: {*map(_services, mine)} for timetable, mine in sessions.items()}
    for line, mondays in _owed(weeks, student):
        since = first_without(
            [one for one in mondays if not any(line.service_id in mine for mine in stands[weeks[one].pk])]
        )
        if since is not None:
            yield NoUsualTimeView(line.statement, line.provider_id, since)


def _services(row: TimetableSession) -> frozenset[int]:
    return frozenset(one.service_line.service_id for one in row.attendees.all())


def _owed(weeks: _Weeks, student: Student) -> Iterator[tuple[ServiceLine, set[dt.date]]]:
    """The first terms of each service, and those of the weeks that owe it by any of its terms."""
    first: dict[int, ServiceLine] = {}
    owed: dict[int, set[dt.date]] = {}
    lines = ServiceLine.objects.filter(plan__student=student, unit__in=BY_WEEK, extended_year=False)
    teachers = {one.teacher_id for one in weeks.values()}
    for line in lines.filter(provider__in=teachers).order_by("start", "pk"):
        first.setdefault(line.service_id, line)
        mondays = {one for one in weeks if line.start < one + WEEK and line.end >= one}
        owed[line.service_id] = owed.get(line.service_id, set()) | mondays
    yield from ((line, owed[service]) for service, line in first.items())
