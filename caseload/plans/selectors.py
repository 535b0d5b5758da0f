"""Reads of the caseload floor for pages and the API."""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from accounts.dates import date_words, short_date_words, span_words
from accounts.models import AuditEntry, Person
from caseload.plans.enrollment.selectors import students_anywhere, students_at
from caseload.plans.models import ContinuingService, Plan, ServiceLine, Student
from caseload.plans.models.plan import ServiceLineQuerySet
from travel.places.models import Building


def students_listed(*, viewer: Person, today: dt.date, building: Building | None = None) -> QuerySet[Student]:
    """Students whom the viewer sees, with where they are and their services of today or later.

    At a building are those who are there today for their school or a program, and those who were there last.

    Each has `waits_for_plan`: no plan in force today or later, so that what is done now is provisional or nothing.
    There is no search by name: what is searched for would be in the address, and so in logs.
    """
    in_force = Plan.objects.filter(student=OuterRef("pk"), status=Plan.Status.IN_FORCE, end__gte=today)
    rows = Student.objects.visible_to(viewer).annotate(waits_for_plan=~Exists(in_force))
    if building is not None:
        rows = rows.filter(
            students_at(building.pk, today, today) | (Q(building=building) & ~students_anywhere(today))
        ).distinct()
    coming = ServiceLine.objects.filter(end__gte=today)
    services = (ServiceLine.objects.visible_to(viewer) if viewer.is_reviewer else coming).order_by("start", "id")
    return rows.select_related("building", "home_class", "caseload_teacher").prefetch_related(
        Prefetch("plans__lines", queryset=services, to_attr="current_lines"),
        "enrollments__building",
        "enrollments__home_class",
    )


@dataclass(frozen=True, slots=True)
class ServiceListed:
    """A version of a service in a list. `when`: from or until which day, where it isn't simply in force."""

    line: ServiceLine
    when: str


def services_listed(student: Student, today: dt.date) -> list[ServiceListed]:
    """A student's services of today or later (of `students_listed`), versions of one service beside each other.

    Two versions aren't two services: each says its days, as does what begins later.
    """
    by_service: dict[int, list[ServiceLine]] = {}
    plans: Iterable[Any] = student.plans.all()
    for line in (line for plan in plans for line in plan.current_lines):
        by_service.setdefault(line.service_id, []).append(line)
    return [
        ServiceListed(line, _when_listed(line, has_next=line != versions[-1], today=today))
        for versions in (sorted(each, key=lambda one: one.start) for each in by_service.values())
        for line in versions
    ]


def _when_listed(line: ServiceLine, *, has_next: bool, today: dt.date) -> str:
    parts = [f"from {short_date_words(line.start)}"] if line.start > today else []
    return " ".join([*parts, f"until {short_date_words(line.end)}"] if has_next else parts)


def student_plans(student: Student, viewer: Person | None = None) -> QuerySet[Plan]:
    """A student's plans with their services, the latest first: all, or those that a viewer may see."""
    rows = ServiceLine.objects.all() if viewer is None else ServiceLine.objects.visible_to(viewer)
    lines = rows.select_related("provider", "building", "pushed_into", "held_in__building").prefetch_related(
        "allowed_spaces"
    )
    plans = Plan.objects.all() if viewer is None else Plan.objects.visible_to(viewer)
    return plans.filter(student=student).prefetch_related(Prefetch("lines", queryset=lines)).order_by("-start")


def waits_for_plan(student: Student, today: dt.date) -> bool:
    """Whether no plan is in force today or later."""
    return not student.plans.filter(status=Plan.Status.IN_FORCE, end__gte=today).exists()


def lines_unserved(provider: Person, today: dt.date) -> ServiceLineQuerySet:
    """Services that are owed from today on and after their provider's last day: somebody has to be found."""
    rows = ServiceLine.objects.filter(provider=provider)
    last = provider.last_teaching_day
    return rows.none() if last is None else rows.filter(end__gt=last, end__gte=today)


def line_before(row: ServiceLine, values: Mapping[str, Any]) -> ServiceLine | None:
    """The line that a new one goes on with: the only one of its type and setting that ends the day before.

    Plans that follow each other repeat their services (common practice, no source); where two could be meant, the
    new line is a service of its own.
    """
    start = values.get("start", row.start)
    if not isinstance(start, dt.date):
        return None
    found = ServiceLine.objects.filter(
        plan__student=row.plan.student,
        service_type=values.get("service_type", row.service_type),
        setting=values.get("setting", row.setting),
        end=start - dt.timedelta(days=1),
    ).exclude(service__versions__start__gte=start)
    ended = list(found[:2])
    return ended[0] if len(ended) == 1 else None


type Versions = Mapping[int, Sequence[tuple[int, dt.date, dt.date]]]
"""By a line: it and the other versions of its service, each with its first and last day."""


def versions_by_line(lines: Collection[int]) -> Versions:
    """The versions of each line's service, where it has more than one. One query."""
    rows = ServiceLine.objects.filter(service__versions__in=lines).order_by("start", "pk").distinct()
    found: dict[int, list[tuple[int, dt.date, dt.date]]] = {}
    for service, pk, first, last in rows.values_list("service_id", "pk", "start", "end"):
        found.setdefault(service, []).append((pk, first, last))
    return {pk: several for several in found.values() if len(several) > 1 for pk, _, _ in several}


def line_on(line: int, day: dt.date, versions: Versions) -> int:
    """The version of a line's service that is in force on a date; where there is none, the line itself.

    What was planned before a service changed stands under the terms of its day: whoever reads planned sessions by
    their lines asks here.
    """
    return next((pk for pk, first, last in versions.get(line, ()) if first <= day <= last), line)


def place_told(row: ServiceLine, values: Mapping[str, Any]) -> list[str]:
    """In sentences, what terms change about where a service is held: in another building or at the own school."""
    before, after = row.held_in, values.get("held_in", row.held_in)
    way = values.get("way_minutes", row.way_minutes) or 0
    if before == after and way == row.way_minutes:
        return []
    if after is None:
        there = "It is held at the student's own school again."
    else:
        gone = f", and students are out of class {way} more minutes before and after" if way else ""
        there = (
            f"It is held at {after.building}, {after}: you drive there{gone}. A closing of either school drops it."
        )
    return [there, "Weeks that are published stay as they are until you plan them again."]


CHANGES = ("service_change", "service_correct", "service_undo")


def changes_of_service(service: ContinuingService) -> QuerySet[AuditEntry]:
    """What was done to a service as a whole, the latest first."""
    rows = AuditEntry.objects.filter(model=service._meta.label_lower, object_id=str(service.pk), action__in=CHANGES)
    return rows.select_related("actor").order_by("-pk")


def change_told(entry: AuditEntry) -> str:
    """Who did what and when, such as “Ada Vey on March 3, 2027: 3 x 30 min/week from March 8, 2027 to …”."""
    who = str(entry.actor) if entry.actor is not None else "somebody"
    return f"{who} on {date_words(timezone.localtime(entry.at).date())}: {change_words(entry)}"


def change_words(entry: AuditEntry) -> str:
    """What was done to a service as a whole: its terms afterward, each with its days."""
    states = [after if entry.action != "service_undo" else before for before, after in entry.changes.values()]
    lines = [one for one in states if one is not None and "statement" in one]
    lasting = sorted(lines, key=lambda one: one["start"])
    who_gives = _providers_told(lasting)
    parts = [
        f"{one['statement']} from {span_words(*map(_date, (one['start'], one['end'])))}"
        f"{who_gives.get(one.get('provider_id'), '')}"
        for one in lasting
    ]
    verb = "took a change back: " if entry.action == "service_undo" else ""
    return f"{verb}{'; '.join(parts)}"


def _providers_told(lines: Iterable[Mapping[str, Any]]) -> dict[Any, str]:
    """Who gives each, where it isn't the same teacher throughout."""
    providers = {one.get("provider_id") for one in lines}
    if len(providers) < 2:
        return {}
    return {pk: f" with {person}" for pk, person in Person.objects.in_bulk(providers - {None}).items()}


def _date(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


@dataclass(frozen=True, slots=True)
class ServiceShown:
    """A service within one plan: the version in force, else the next or the last one, and the others.

    `change` says what was done to it last, where that can be taken back.
    """

    line: ServiceLine
    others: tuple[ServiceLine, ...]
    change: str = ""


@dataclass(frozen=True, slots=True)
class PlanShown:
    """A plan with its services; `renewal` says by whom and when it was made of the plan before, for taking back."""

    plan: Plan
    services: tuple[ServiceShown, ...]
    renewal: str = ""


def plans_shown(student: Student, today: dt.date, viewer: Person) -> list[PlanShown]:
    """A student's plans as a viewer may see them, the latest first, lines by their service."""
    plans = list(student_plans(student, viewer if viewer.is_reviewer else None))
    lines = [line for plan in plans for line in plan.lines.all()]
    last = _last_changes({line.service_id for line in lines}, plans)
    return [
        PlanShown(plan, tuple(_services_of(plan, last, today)), _renewal_told(last.get((_PLAN, plan.pk))))
        for plan in plans
    ]


_SERVICE, _PLAN = ContinuingService._meta.label_lower, Plan._meta.label_lower


def _last_changes(services: Collection[int], plans: Iterable[Plan]) -> dict[tuple[str, int], AuditEntry]:
    """The last change of each service, and the last renewal of each plan or that it was taken back. One query."""
    of_services = Q(model=_SERVICE, object_id__in=[str(one) for one in services], action__in=CHANGES)
    of_plans = Q(model=_PLAN, object_id__in=[str(one.pk) for one in plans], action="plan_renew")
    rows = AuditEntry.objects.filter(of_services | of_plans).select_related("actor").order_by("pk")
    return {(one.model, int(one.object_id)): one for one in rows}


def _services_of(plan: Plan, last: Mapping[tuple[str, int], AuditEntry], today: dt.date) -> Iterator[ServiceShown]:
    by_service: dict[int, list[ServiceLine]] = {}
    for line in plan.lines.all():
        by_service.setdefault(line.service_id, []).append(line)
    for service, versions in by_service.items():
        shown = next((one for one in versions if one.end >= today), versions[-1])
        told = _change_here(last.get((_SERVICE, service)), versions)
        yield ServiceShown(shown, tuple(one for one in versions if one != shown), told)


def _change_here(entry: AuditEntry | None, versions: Iterable[ServiceLine]) -> str:
    """What a change did to these versions, if it can be taken back."""
    if entry is None or entry.action == "service_undo":
        return ""
    return change_told(entry) if any(f"line {one.pk}" in entry.changes for one in versions) else ""


def _renewal_told(entry: AuditEntry | None) -> str:
    if entry is None:
        return ""
    return f"Renewed by {entry.actor or 'somebody'} on {date_words(timezone.localtime(entry.at).date())}."
