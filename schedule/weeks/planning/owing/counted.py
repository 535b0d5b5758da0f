"""What service lines owe in a week, counted in the calendars of where their students are."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from accounts.models import Person
from caseload.ledger.terms import Span as CountedYear
from caseload.plans.enrollments import Stay
from caseload.plans.models import ServiceLine, stays_of
from schedule.calendar.models import MarkingPeriod, SchoolYear
from schedule.calendar.selectors.school_days import BuildingCalendar
from schedule.calendar.selectors.student_days import StudentDays
from schedule.weeks.planning.assemble import Base, TeacherRows
from schedule.weeks.planning.quotas import Owed, Periods, Placed, owed_in_week
from schedule.weeks.versions.history import known_from, minutes_placed


def sessions_counted(
    mine: TeacherRows,
    lines: Sequence[ServiceLine],
    calendars: Mapping[int, BuildingCalendar],
    year: SchoolYear,
    monday: dt.date,
    base: Base,
) -> dict[int, Owed]:
    """What each of these lines owes in the week."""
    versions = versions_of(lines)
    placed = placed_of(mine.person, lines, versions, year, monday, base)
    marking = tuple(MarkingPeriod.objects.filter(school_year=year))
    known = known_from(mine.person, monday, base.planned)
    periods = PeriodsOf(mine, calendars, year, marking)
    held = _held(base)

    def owed(line: ServiceLine) -> Owed:
        shared = versions.get(line.service_id, ())
        return owed_in_week(line, monday, periods.of(line), placed[line.pk], known, shared, held[line.pk])

    return {line.pk: base.left_of(line.pk, base.counts.get(line.pk) or owed(line)) for line in lines}


def _held(base: Base) -> Mapping[int, list[dt.date]]:
    """The dates on which the week in force holds each line; make-ups answer older minutes."""
    found: dict[int, list[dt.date]] = defaultdict(list)
    for session in base.in_force.sessions if base.in_force else ():
        for line in () if session.makes_up else session.lines:
            found[line].append(session.date)
    return found


def versions_of(lines: Sequence[ServiceLine]) -> dict[int, list[ServiceLine]]:
    """All versions of the services that have several, oldest first, by the service's id; with the same students."""
    students = {line.service_id: line.plan.student for line in lines}
    found: dict[int, list[ServiceLine]] = defaultdict(list)
    rows = ServiceLine.objects.filter(service__in=students).select_related("plan").order_by("start", "pk")
    for one in rows:
        one.plan.student = students[one.service_id]
        found[one.service_id].append(one)
    return {service: several for service, several in found.items() if len(several) > 1}


def placed_of(
    teacher: Person,
    lines: Sequence[ServiceLine],
    versions: Mapping[int, Sequence[ServiceLine]],
    year: SchoolYear,
    monday: dt.date,
    base: Base,
) -> dict[int, list[Placed]]:
    """By line: what is placed in other weeks, under whichever version of its service, by whichever teacher."""
    every = {one.pk: one for line in lines for one in versions.get(line.service_id, [line])}
    first = min([year.first_day, *(one.start for one in every.values())])
    others = [pk for pk, one in every.items() if one.provider_id != teacher.pk]
    found = minutes_placed(teacher, monday, base.planned, first, others)
    return {
        line.pk: [one for version in versions.get(line.service_id, [line]) for one in found.get(version.pk, [])]
        for line in lines
    }


@dataclass(slots=True)
class PeriodsOf:
    """What each line's frequency counts in: students who stay in one place share what is worked out once."""

    mine: TeacherRows
    calendars: Mapping[int, BuildingCalendar]
    year: SchoolYear
    marking: tuple[MarkingPeriod, ...]
    known: dict[tuple[tuple[Stay, ...], int | None], Periods] = field(default_factory=dict)

    def of(self, line: ServiceLine) -> Periods:
        """The days on which the teacher works and the student's building of the day is open, and its turns."""
        stays = stays_of(line.plan.student)
        key = stays, line.building_id
        if key not in self.known:
            span = CountedYear(self.year.name, self.year.first_day, self.year.last_day)
            days = StudentDays(self.calendars, stays, line.building_id, span)
            school = tuple(sorted(days.attended()))
            served = tuple(date for date in school if date.weekday() in self.mine.contract)
            self.known[key] = Periods(self.year, self.marking, served, tuple(days.own_turns()), school)
        return self.known[key]
