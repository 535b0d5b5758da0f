"""Counts of teachers: asked for by the clock and by a press, worked out in the background, kept week by week."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from accounts.models import AuditEntry, Person, held_ever
from accounts.selectors import today_of, working_as
from accounts.services import district_of, permission_require
from caseload.plans.models import ServiceLine
from jobs.services import job_add
from schedule.overview.models import CountedCause, CountedMissed, CountedServices, TeacherCount
from schedule.overview.selectors.counting import (
    ServiceSum,
    WeekSum,
    missed_of,
    past_sums,
    week_sum,
)
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import teachers_for

KIND = "count_teacher"
PERMISSION = "overview.view"
MOST_AT_ONCE = 5
"""So many teachers of a district are asked for each minute, so that a plan that somebody waits for comes soon."""
NOT_BEFORE = dt.timedelta(hours=1)
"""How old a count of today is before a change in the district makes it due."""


@dataclass(frozen=True, slots=True)
class Counted:
    """What was worked out for one teacher, with the number of the district's latest change before it began."""

    change: int
    weeks: tuple[WeekSum, ...]


def teachers_counted(coordinator: Person, day: dt.date) -> QuerySet[Person]:
    """Whom a district's figures are made of: who signs in, and who is still named as provider that day."""
    named = ServiceLine.objects.owed_between(day, day).filter(provider__district=coordinator.district_id)
    return teachers_for(coordinator).filter(Q(is_active=True) | Q(pk__in=named.values("provider")))


def counts_ask_due() -> int:
    """Ask for the counts that are due, some of each district that has a coordinator; returns how many.

    Due is who wasn't counted today, and who was counted more than an hour ago in a district that changed since.
    """
    coordinators = Person.objects.filter(held_ever(Person.Role.COORDINATOR), is_active=True, district__isnull=False)
    known = coordinators.select_related("district").prefetch_related("roles").order_by("-pk")
    by_district = {one.district_id: one for one in known if working_as(one, Person.Role.COORDINATOR).role}
    return sum(_ask(_due(one)[:MOST_AT_ONCE]) for one in by_district.values())


def _due(coordinator: Person) -> QuerySet[Person]:
    today = today_of(coordinator)
    counts = TeacherCount.objects.filter(teacher=OuterRef("pk"), monday=monday_of(today))
    stale = Q(seen__lt=_change_of(coordinator.district_id), at__lt=timezone.now() - NOT_BEFORE)
    teachers = teachers_counted(coordinator, today).annotate(
        day=Subquery(counts.values("last_date")),
        seen=Subquery(counts.values("change")),
        at=Subquery(counts.values("counted_at")),
    )
    return teachers.filter(Q(day__isnull=True) | Q(day__lt=today) | stale)


def counts_ask(*, actor: Person) -> int:
    """Have every teacher of the district counted now; returns how many. Raises `ApplicationError` (403)."""
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        return _ask(teachers_counted(actor, today_of(actor)))


def _ask(teachers: Iterable[Person]) -> int:
    """One job a teacher; asking again before it is over adds none."""
    asked = [
        job_add(kind=KIND, payload={"teacher": one.pk}, district=one.district_id, unique_key=f"{KIND}:{one.pk}")
        for one in teachers
    ]
    return len(asked)


def _change_of(district_id: int | None) -> int:
    """The number of a district's latest change."""
    return AuditEntry.objects.filter(district=district_id).aggregate(latest=Max("pk"))["latest"] or 0


def teacher_count_work(*, teacher: Person) -> Counted:
    """Work out this week's figures of a teacher, and those of past weeks for whom nothing was counted yet."""
    change, today = _change_of(teacher.district_id), today_of(teacher)
    begun = TeacherCount.objects.filter(teacher=teacher).exists()
    return Counted(change, (*(() if begun else past_sums(teacher, today)), week_sum(teacher, today)))


def teacher_count_save(*, teacher: Person, found: Counted) -> None:
    """Keep what was worked out in place of what the week had; call it inside a transaction."""
    for week in found.weeks:
        count, _ = TeacherCount.objects.update_or_create(
            teacher=teacher, monday=week.monday, defaults={"district": district_of(teacher), **_values(week, found)}
        )
        count.services.all().delete()
        count.causes.all().delete()
        parts = CountedServices.objects.bulk_create(_part(count, *one) for one in week.services.items())
        CountedMissed.objects.bulk_create(_missed(parts, week.services.values()))
        CountedCause.objects.bulk_create(
            CountedCause(
                count=count,
                kind=one.kind,
                cause=one.cause,
                words=one.words,
                things=one.things,
                services=one.services,
                minutes=one.minutes,
                due=one.due,
            )
            for one in week.causes
        )


def _values(week: WeekSum, found: Counted) -> dict[str, object]:
    planned = week.week.planned if week.week is not None else None
    return {
        "last_date": week.last_date,
        "counted_at": timezone.now(),
        "change": found.change,
        "students": week.students,
        "schools": week.schools,
        "contract": week.week.contract if week.week is not None else None,
        "worked": planned.total if planned is not None else 0,
        "wheel": planned.wheel if planned is not None else 0,
        "unplaced": planned.unplaced if planned is not None else 0,
        "miles": week.miles,
    }


def _part(count: TeacherCount, key: tuple[int, str], found: ServiceSum) -> CountedServices:
    figures = found.figures
    return CountedServices(
        count=count, building_id=key[0], service_type=key[1], services=found.services,
        services_behind=found.behind, services_short=found.short, short=found.short_minutes,
        owed=figures.owed, delivered=figures.delivered, made_up=figures.made_up, missed=figures.missed_minutes,
        not_owed=figures.not_owed, undecided=figures.undecided, unlogged=figures.unlogged, behind=figures.behind,
        opening=figures.opening,
    )  # fmt: skip


def _missed(parts: Iterable[CountedServices], sums: Iterable[ServiceSum]) -> Iterator[CountedMissed]:
    for part, found in zip(parts, sums, strict=True):
        for reason, minutes in missed_of(found).items():
            yield CountedMissed(part=part, reason=reason, minutes=minutes)
