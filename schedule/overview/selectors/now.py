"""What the coordinator's page asks for at the moment it is shown, in a few queries of the database."""

import datetime as dt
from dataclasses import dataclass

from django.apps import apps
from django.db.models import Count, Exists, OuterRef

from accounts.models import AuditEntry, Person
from caseload.months.models import LogMonth
from caseload.plans.enrollment.selectors import students_anywhere
from caseload.plans.models import ServiceLine, Student
from schedule.overview.sums import ChangeLine, MonthStanding
from schedule.weeks.selectors.pages import teachers_for
from travel.mileage.models import Voucher

STUDENTS_SHOWN = 10
CHANGES_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Unserved:
    """Students at a school whom no service in force is for; the first by name."""

    count: int
    first: tuple[Student, ...]


def month_standing(viewer: Person, today: dt.date) -> MonthStanding:
    """How far the month before this one is with the district's teachers. Four queries."""
    month = (today.replace(day=1) - dt.timedelta(days=1)).replace(day=1)
    months = LogMonth.objects.visible_to(viewer).filter(month=month)
    by_status = dict(months.order_by().values_list("status").annotate(Count("pk")))
    vouchers = Voucher.objects.visible_to(viewer).order_by().values_list("status")
    by_step = dict(vouchers.annotate(Count("pk")))
    return MonthStanding(
        month=month,
        teachers=teachers_for(viewer).filter(is_active=True).count(),
        signed=by_status.get(LogMonth.Status.SIGNED, 0),
        closed=by_status.get(LogMonth.Status.CLOSED, 0),
        submitted=by_step.get(Voucher.Status.SUBMITTED, 0),
        returned=by_step.get(Voucher.Status.RETURNED, 0),
        approved=by_step.get(Voucher.Status.APPROVED, 0),
    )


def unserved_students(viewer: Person, today: dt.date) -> Unserved:
    """Students at a school today whom no service in force is for. Two queries."""
    lines = ServiceLine.objects.owed_between(today, today).filter(plan__student=OuterRef("pk"))
    rows = Student.objects.visible_to(viewer).filter(students_anywhere(today)).exclude(Exists(lines)).distinct()
    first = rows.select_related("building").order_by("last_name", "first_name", "pk")[:STUDENTS_SHOWN]
    return Unserved(rows.count(), tuple(first))


def changes_since(viewer: Person, since: dt.datetime) -> tuple[ChangeLine, ...]:
    """What was changed since a moment, the most rows first: how many of each sort, by how many people."""
    rows = AuditEntry.objects.visible_to(viewer).filter(at__gte=since, actor__isnull=False).order_by()
    found = rows.values("model").annotate(
        rows=Count("object_id", distinct=True), people=Count("actor", distinct=True)
    )
    lines = [ChangeLine(_table_words(row["model"]), row["rows"], row["people"]) for row in found]
    return tuple(sorted(lines, key=lambda one: (-one.rows, one.words))[:CHANGES_SHOWN])


def _table_words(label: str) -> str:
    """What rows of a table are called, such as "school years"; without such a table the end of the label."""
    try:
        model = apps.get_model(label)
    except (LookupError, ValueError):
        return label.rpartition(".")[2]
    return str(model._meta.verbose_name_plural)
