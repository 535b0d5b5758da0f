"""The calendar of one date for a day sheet, and the days around it.

What a closing does is decided in `schedule.weeks.day_shape`.
"""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Person, Substitution
from schedule.calendar.closed_days import CLOSING_KINDS
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import CalendarEntry, Happening
from schedule.calendar.words import clock_words
from schedule.day.data import DayNotice
from schedule.weeks.data import BuildingDayView
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import as_held

Kind = CalendarEntry.Kind
SHORTENED = (Kind.DELAYED_OPENING, Kind.EARLY_DISMISSAL, Kind.OTHER_BELL)
SATURDAY = 5
LOOK_AHEAD = 200
"""Sessions looked through for the next day with one; a teacher has about ten a day."""


def is_covered(viewer: Person, teacher: Person, date: dt.date) -> bool:
    """Whether a substitute covers the teacher on a date; true for everyone who isn't a substitute."""
    if viewer.role != Person.Role.SUBSTITUTE:
        return True
    substitutions = Substitution.objects.filter(substitute=viewer, teacher=teacher)
    return substitutions.filter(first_date__lte=date, last_date__gte=date).exists()


def stays_away(teacher: Person, date: dt.date) -> bool:
    """Whether a teacher for whom somebody stands in is away all day: unless a part of it was said."""
    away = Happening.objects.standing().filter(teacher=teacher, kind=HappeningKind.AWAY)
    return not away.filter(first_date__lte=date, last_date__gte=date).exclude(start=None, end=None).exists()


def drives_day(viewer: Person, teacher: Person, date: dt.date) -> bool:
    """Whether the viewer is who drives a teacher's day: the teacher, or the substitute who covers it."""
    return viewer == teacher or (viewer.role == Person.Role.SUBSTITUTE and is_covered(viewer, teacher, date))


def drivers_of(teacher: Person, date: dt.date) -> Q:
    """A condition on logged drives: the teacher's, and those of who covers the date."""
    covers = Substitution.objects.filter(teacher=teacher, first_date__lte=date, last_date__gte=date)
    return Q(teacher=teacher) | Q(teacher__in=covers.values("substitute"))


def entries_between(
    district_id: int, building_ids: Iterable[int], first: dt.date, last: dt.date
) -> list[CalendarEntry]:
    """Entries of the district and of some buildings that hold on any of the dates."""
    rows = CalendarEntry.objects.filter(
        Q(building=None) | Q(building__in=set(building_ids)),
        district_id=district_id,
        first_date__lte=last,
        last_date__gte=first,
    )
    return list(rows.select_related("building").order_by("first_date", "pk"))


def notices_of(entries: Sequence[CalendarEntry], buildings: Sequence[BuildingDayView]) -> tuple[DayNotice, ...]:
    """The entries of one date in words, those that close first; with the hours of shortened schools."""
    ordered = sorted(entries, key=lambda row: (row.kind not in CLOSING_KINDS, row.building_id is not None, row.pk))
    return tuple(
        DayNotice(
            kind=row.kind,
            kind_label=Kind(row.kind).label.partition(" (")[0],
            place=row.building.name if row.building is not None else "All schools",
            building_id=row.building_id,
            title=row.title,
            closes=row.kind in CLOSING_KINDS,
            hours=_hours(row, buildings) if row.kind in SHORTENED else (),
        )
        for row in ordered
    )


def _hours(row: CalendarEntry, buildings: Sequence[BuildingDayView]) -> tuple[str, ...]:
    return tuple(
        f"{one.building_name}: {clock_words(one.opens_minute)} to {clock_words(one.closes_minute)}."
        for one in buildings
        if one.open
        and one.opens_minute is not None
        and one.closes_minute is not None
        and (row.building is None or row.building.code == one.building_code)
    )


def days_beside(viewer: Person, teacher: Person, date: dt.date) -> tuple[dt.date, dt.date]:
    """The days before and after one: weekdays, and a day of a weekend on which something is planned."""
    beside = (date + dt.timedelta(days=number) for number in (-1, 1))
    weekend = [other for day in beside if day.weekday() >= SATURDAY for other in (day, day + (day - date))]
    if not weekend:
        return _next(date, -1, set()), _next(date, 1, set())
    within = {"week__teacher": teacher, "week__status": WeekPlan.Status.PUBLISHED, "date__in": weekend}
    busy = set(PlannedSession.objects.visible_to(viewer).filter(**within).values_list("date", flat=True))
    busy |= set(DayItem.objects.visible_to(viewer).filter(**within).values_list("date", flat=True))
    return _next(date, -1, busy), _next(date, 1, busy)


def _next(date: dt.date, step: int, busy: set[dt.date]) -> dt.date:
    day = date + dt.timedelta(days=step)
    while day.weekday() >= SATURDAY and day not in busy:
        day += dt.timedelta(days=step)
    return day


def next_teaching_day(viewer: Person, teacher: Person, date: dt.date) -> dt.date | None:
    """The next date after one with a session that takes place, as far as the viewer sees; or None."""
    rows = _seen(viewer, teacher).filter(date__gt=date).select_related("week").order_by("date", "start", "pk")
    coming = list(rows[:LOOK_AHEAD])
    held = as_held([teacher], coming)
    return next((one.date for one in coming if held[one.uid].off is None), None)


def _seen(viewer: Person, teacher: Person) -> QuerySet[PlannedSession]:
    rows = PlannedSession.objects.visible_to(viewer).filter(
        week__teacher=teacher, week__status=WeekPlan.Status.PUBLISHED
    )
    if viewer.role != Person.Role.SUBSTITUTE:
        return rows
    substitutions = Substitution.objects.filter(
        substitute=viewer,
        teacher=teacher,
        first_date__lte=OuterRef("date"),
        last_date__gte=OuterRef("date"),
    )
    return rows.filter(Exists(substitutions))
