"""Reads what was said to have happened, as the pure rules take it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection

from django.db.models import Q

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from caseload.plans.grades import read_grades
from schedule.calendar.happened import MIDNIGHT, OF_SCHOOLS, OF_TEACHER, HappeningKind, Said
from schedule.calendar.models.happenings import Happening
from schedule.calendar.selectors.covers import covers_between


def said_between(district_id: int, first: dt.date, last: dt.date, teachers: Collection[int]) -> tuple[Said, ...]:
    """What stands for these teachers' sessions between two dates. One query, and one more where schools are named.

    Closings and hours for every grade aren't among it: the calendar's entries say those.
    """
    return tuple(said_of(row) for row in STANDING(teachers, district_id, first, last))


STANDING = SqlOnce(
    lambda teachers, district, first, last: (
        Happening.objects.standing()
        .filter(
            Q(teacher=None) | Q(teacher__in=teachers),
            district_id=district,
            first_date__lte=last,
            last_date__gte=first,
        )
        .exclude(kind__in=OF_SCHOOLS, grades="")
        .prefetch_related("buildings")
        .order_by("pk")
    )
)


def said_of(row: Happening) -> Said:
    """A row as the pure thing; its buildings are asked for."""
    start = 0 if row.start is None else row.start.hour * 60 + row.start.minute
    end = MIDNIGHT if row.end is None else row.end.hour * 60 + row.end.minute
    return Said(
        pk=row.pk,
        kind=HappeningKind(row.kind),
        first=row.first_date,
        last=row.last_date,
        start=start,
        end=end,
        teacher=row.teacher_id,
        buildings=frozenset(one.pk for one in row.buildings.all()),
        grades=read_grades(row.grades) if row.grades else frozenset(),
        space=row.space_id,
        school_class=row.school_class_id,
        student=row.student_id,
        goes_on=row.goes_on,
    )


def away_times(teacher: Person) -> dict[dt.date, list[tuple[int, int]]]:
    """When a teacher is away or late, by date, in minutes after midnight; not on days with a substitute."""
    rows = Happening.objects.standing().filter(kind__in=OF_TEACHER, teacher=teacher)
    found: dict[dt.date, list[tuple[int, int]]] = defaultdict(list)
    for said in map(said_of, rows.prefetch_related("buildings")):
        for number in range((said.last - said.first).days + 1):
            found[said.first + dt.timedelta(days=number)].append((said.start, said.end))
    if not found:
        return {}
    covers = covers_between([teacher.pk], min(found), max(found))
    return {date: times for date, times in found.items() if not covers.whole_day(date)}


def days_away(teacher: Person) -> frozenset[dt.date]:
    """Dates on which a teacher is away all day and nobody stands in."""
    return frozenset(date for date, times in away_times(teacher).items() if (0, MIDNIGHT) in times)
