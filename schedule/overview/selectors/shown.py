"""What the coordinator's page shows: kept counts, added up by the database. It costs the same at any size."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Count, Max, Min, QuerySet, Sum

from accounts.models import Person
from caseload.delivery.models import MissedReason
from caseload.plans.models import ServiceLine
from schedule.overview.models import CountedMissed, CountedServices, TeacherCount
from schedule.overview.selectors.latest import latest_counts
from schedule.overview.selectors.waiting import waits
from schedule.overview.sums import (
    SUMS,
    By,
    MinuteSums,
    Overview,
    OverviewAsked,
    ReasonLine,
    SumsLine,
    TeacherLoad,
    WeekPoint,
)
from schedule.weeks.selectors.pages import teachers_for
from travel.places.models import Building

WEEKS_SHOWN = 12

_COLUMN = {By.TEACHER: "count__teacher", By.BUILDING: "building", By.SERVICE: "service_type"}


def overview(viewer: Person, asked: OverviewAsked) -> Overview:
    """How the viewer's district stands, by what is asked. The number of queries is fixed at any size."""
    counts = latest_counts(viewer)
    if asked.teacher is not None:
        counts = counts.filter(teacher=asked.teacher)
    parts = _narrowed(CountedServices.objects.filter(count__in=counts), asked)
    spans = counts.aggregate(oldest=Min("counted_at"), newest=Max("counted_at"), number=Count("pk"))
    teachers = teachers_for(viewer).filter(is_active=True)
    counted = counts.values("teacher")
    return Overview(
        asked=asked,
        teachers=spans["number"],
        uncounted=0 if asked.teacher else teachers.exclude(pk__in=counted).count(),
        oldest=spans["oldest"],
        newest=spans["newest"],
        sums=_sums(parts.aggregate(**_SUMS)),
        lines=_lines(viewer, parts, asked.by),
        reasons=_reasons(viewer, parts),
        loads=() if asked.is_narrowed else _loads(counts),
        weeks=_weeks(viewer, asked),
        waits=() if asked.is_narrowed else waits(counts),
    )


_SUMS = {name: Sum(name, default=0) for name in SUMS}


def _sums(found: Mapping[str, Any]) -> MinuteSums:
    return MinuteSums(**{name: found[name] for name in SUMS})


def _narrowed(parts: QuerySet[CountedServices], asked: OverviewAsked) -> QuerySet[CountedServices]:
    if asked.building is not None:
        parts = parts.filter(building=asked.building)
    return parts.filter(service_type=asked.service) if asked.service else parts


def _lines(viewer: Person, parts: QuerySet[CountedServices], by: By) -> tuple[SumsLine, ...]:
    """By teacher, school or service, by name."""
    column = _COLUMN[by]
    rows = list(parts.order_by().values(column).annotate(**_SUMS))
    names = _names(viewer, by, [row[column] for row in rows])
    lines = (SumsLine(str(row[column]), names[row[column]], _sums(row)) for row in rows)
    return tuple(sorted(lines, key=lambda one: (one.name, one.key)))


def _names(viewer: Person, by: By, keys: Iterable[Any]) -> Mapping[Any, str]:
    match by:
        case By.TEACHER:
            people = teachers_for(viewer).filter(pk__in=list(keys))
            return {one.pk: f"{one.last_name}, {one.first_name}" for one in people}
        case By.BUILDING:
            return dict(Building.objects.visible_to(viewer).filter(pk__in=list(keys)).values_list("pk", "name"))
        case _:
            return dict(ServiceLine.Type.choices)


def _reasons(viewer: Person, parts: QuerySet[CountedServices]) -> tuple[ReasonLine, ...]:
    """The most minutes first, in the district's words."""
    rows = CountedMissed.objects.filter(part__in=parts).order_by().values("reason")
    words = dict(MissedReason.objects.filter(district=viewer.district_id).values_list("code", "words"))
    found = rows.annotate(total=Sum("minutes")).order_by("-total", "reason")
    return tuple(ReasonLine(words.get(row["reason"], row["reason"]), row["total"]) for row in found)


def _loads(counts: QuerySet[TeacherCount]) -> tuple[TeacherLoad, ...]:
    """Each teacher's week, by name."""
    rows = counts.select_related("teacher").order_by("teacher__last_name", "teacher__first_name", "teacher")
    return tuple(
        TeacherLoad(
            one.teacher_id,
            f"{one.teacher.last_name}, {one.teacher.first_name}",
            one.students,
            one.schools,
            one.worked,
            one.contract,
            one.wheel,
            one.miles,
            one.unplaced,
            one.last_date,
        )
        for one in rows
    )


def _weeks(viewer: Person, asked: OverviewAsked) -> tuple[WeekPoint, ...]:
    """The last weeks that were counted, the earliest first: each as it was counted last."""
    counts = TeacherCount.objects.visible_to(viewer)
    if asked.teacher is not None:
        counts = counts.filter(teacher=asked.teacher)
    dates = {
        row["monday"]: row
        for row in counts.order_by()
        .values("monday")
        .annotate(last=Max("last_date"), teachers=Count("pk"))
        .order_by("-monday")[:WEEKS_SHOWN]
    }
    parts = _narrowed(CountedServices.objects.filter(count__in=counts.filter(monday__in=dates)), asked)
    found = {row["count__monday"]: row for row in parts.order_by().values("count__monday").annotate(**_SUMS)}
    return tuple(
        WeekPoint(
            monday,
            row["last"],
            row["teachers"],
            _sums(found[monday]) if monday in found else MinuteSums(),
        )
        for monday, row in sorted(dates.items())
    )
