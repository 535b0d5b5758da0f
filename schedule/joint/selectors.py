"""Reads of joint sessions: for planning and for what was planned, and for the student's page."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from accounts.dates import date_words
from accounts.models import Person
from accounts.selectors import LastChange, last_change_of
from caseload.plans.models import ContinuingService, ServiceLine, Student
from schedule.joint.agreed import AgreedByService, GivenTogether
from schedule.joint.models import JointService

UNDO = "joint_service_take_back"


def given_together(concerned: Q, first: dt.date, last: dt.date) -> AgreedByService:
    """What is given together on any day of a stretch, by service from its side; one query.

    ``concerned`` says which, as a condition on joint services.
    """
    lasts = Q(last_day__isnull=True) | Q(last_day__gte=first)
    rows = JointService.objects.filter(concerned, lasts, first_day__lte=last).distinct()
    found: dict[int, list[GivenTogether]] = defaultdict(list)
    for one, other, since, until, times in rows.values_list(
        "service_id", "partner_id", "first_day", "last_day", "times_a_week"
    ):
        found[one].append(GivenTogether(one, other, since, until, times))
        found[other].append(GivenTogether(other, one, since, until, times))
    return {service: tuple(agreed) for service, agreed in found.items()}


def given_together_of(students: Collection[int], first: dt.date, last: dt.date) -> AgreedByService:
    """The same of some students."""
    return given_together(Q(service__student__in=students), first, last) if students else {}


def teachers_beside(teacher: int) -> set[int]:
    """Who gives a service that is given together with one of a teacher's, by id; whenever that holds."""
    mine = ServiceLine.objects.filter(provider=teacher).values("service")
    rows = JointService.objects.filter(Q(service__in=mine) | Q(partner__in=mine))
    pairs = rows.values_list("service__versions__provider", "partner__versions__provider")
    return {one for pair in pairs for one in pair if one is not None} - {teacher}


def services_beside(service: ContinuingService, day: dt.date) -> QuerySet[ContinuingService]:
    """Services of the same student, and of the same type, that other teachers give on a day or later."""
    mine = ServiceLine.objects.filter(service=service, end__gte=day)
    others = ServiceLine.objects.filter(plan__student=service.student_id, end__gte=day)
    others = others.exclude(provider__in=mine.values("provider"))
    others = others.filter(service_type__in=mine.values("service_type"))
    return ContinuingService.objects.filter(pk__in=others.values("service")).exclude(pk=service.pk)


def line_at(service: ContinuingService, day: dt.date) -> ServiceLine | None:
    """The terms of a service on a day, else the next ones, else the last ones."""
    lines = list(service.versions.select_related("provider", "plan__student", "service").order_by("start", "pk"))
    return next((one for one in lines if one.end >= day), lines[-1] if lines else None)


def service_words(service: ContinuingService, day: dt.date) -> str:
    """What a service is called: ``2 x 30 min/week with Ada Vey``."""
    line = line_at(service, day)
    if line is None:
        return "a service without terms"
    consults = " (consultation)" if line.service_type == ServiceLine.Type.CONSULTATION else ""
    return f"{line.statement}{consults} with {line.provider}"


# ---- the student's page ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class JointShown:
    """One agreement in words."""

    row: JointService
    words: str
    is_over: bool


@dataclass(frozen=True, slots=True)
class JointOfStudent:
    """A student's joint sessions; ``lines``: services that could be given together with another teacher's."""

    shown: tuple[JointShown, ...]
    lines: tuple[ServiceLine, ...]
    last: LastChange | None


def joint_of_student(viewer: Person, student: Student, today: dt.date) -> JointOfStudent:
    """What of a student's services is given together, the present and the coming first, and what could be."""
    rows = JointService.objects.visible_to(viewer).filter(service__student=student).select_related("service")
    shown = [JointShown(one, joint_words(one, today), _is_over(one, today)) for one in rows]
    lines = ServiceLine.objects.filter(plan__student=student, end__gte=today).select_related("provider")
    return JointOfStudent(
        tuple(sorted(shown, key=lambda one: one.is_over)),
        _several(list(lines.order_by("start", "pk"))),
        last_joint_change(student),
    )


def _several(lines: Sequence[ServiceLine]) -> tuple[ServiceLine, ...]:
    """One line of each service of a type that several teachers give."""
    givers = {(one.service_type, one.provider_id) for one in lines}
    types = Counter(kind for kind, _ in givers)
    shared = {one.service_id: one for one in reversed(lines) if types[one.service_type] > 1}
    return tuple(shared.values())[::-1]


def _is_over(row: JointService, today: dt.date) -> bool:
    return row.last_day is not None and row.last_day < today


def joint_words(row: JointService, today: dt.date) -> str:
    """``2 x 30 min/week with Ada Vey and 1 x 30 min/week with Bo Orr: 1 session a week, from March 1, 2027 on``."""
    day = max(today, row.first_day)
    who = f"{service_words(row.service, day)} and {service_words(row.partner, day)}"
    until = f" to {date_words(row.last_day)}" if row.last_day else " on"
    return f"{who}: {times_words(row.times_a_week)}, from {date_words(row.first_day)}{until}"


def times_words(times: int | None) -> str:
    """How many sessions, in words."""
    if times is None:
        return "each session that both have"
    return "1 session a week" if times == 1 else f"{times} sessions a week"


def last_joint_change(student: Student) -> LastChange | None:
    """What was done last to the joint sessions of a student."""
    services = list(student.services.values_list("pk", flat=True))
    gone = Q(changes__service__0__in=services) | Q(changes__service__1__in=services)
    rows = JointService.objects.filter(service__in=services).values_list("pk", flat=True)
    return last_change_of(JointService, student.district, rows, undo=UNDO, about=gone)
