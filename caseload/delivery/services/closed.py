"""What closed months hold against changes of the log, of services and of the rules of minutes.

Guards are asked by `accounts.services.record_save` and `record_delete` for every change of their tables' rows, by
whichever service (see accounts.guards); the log's own services ask `entries_closed_require`.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable

from django.db.models import Model

from accounts.models import District
from caseload.delivery.models import LedgerSettings, MissedReason, ReasonEffect
from caseload.months.models import LogMonth, month_of
from caseload.months.services import closed_month_require
from caseload.months.spans import Days, changed_days
from caseload.plans.models import Enrollment, Plan, ServiceLine, Student
from caseload.plans.services import FREQUENCY_PARTS

EVER = dt.date.min
LINE_COUNTED = (*FREQUENCY_PARTS, "service_type", "provider_id")
RULES_COUNTED = ("short_week", "carry_ahead", "counts_from", "least_minutes")


def entries_closed_require(told: Iterable[tuple[ServiceLine, dt.date]]) -> list[LogMonth]:
    """Refuse what would change the log of a closed month; the closed months come back where the district amends.

    `told` are a service and the date of a session each. Call it inside the change's transaction. Raises
    `ApplicationError` (code ``month_closed``).
    """
    teachers: dict[tuple[int, dt.date], set[int]] = defaultdict(set)
    for line, date in told:
        teachers[line.plan.student.district_id, month_of(date)].add(line.provider_id)
    found: list[LogMonth] = []
    for (district, month), several in sorted(teachers.items()):
        found += closed_month_require(district_id=district, teachers=several, first=month, last=month)
    return found


def days_closed_require(district: District, teachers: Collection[int] | None, spans: Iterable[Days]) -> None:
    """Refuse a change of these days where a month of these teachers is closed (None: of anybody's)."""
    for first, last in spans:
        closed_month_require(district_id=district.pk, teachers=teachers, first=first, last=last)


def same_values(was: Model | None, now: Model | None, names: Iterable[str]) -> bool:
    """Whether two rows say the same in these fields."""
    return was is not None and now is not None and all(getattr(was, one) == getattr(now, one) for one in names)


def line_guard(was: ServiceLine | None, now: ServiceLine | None) -> None:
    """What a service owes, by whom and on which days, stays as it was in closed months of its teachers."""
    rows = [row for row in (was, now) if row is not None]
    spans = changed_days(_line_days(was), _line_days(now), same=same_values(was, now, LINE_COUNTED))
    if spans:
        teachers = {row.provider_id for row in rows}
        days_closed_require(rows[-1].district, teachers, spans)


def _line_days(row: ServiceLine | None) -> Days | None:
    return (row.start, row.end) if row is not None else None


def plan_guard(was: Plan | None, now: Plan | None) -> None:
    """A plan that goes takes its services along."""
    if was is not None and now is None:
        for line in was.lines.all():
            line_guard(line, None)


def student_guard(was: Student | None, now: Student | None) -> None:
    """A student who goes takes the services along."""
    if was is not None and now is None:
        for line in ServiceLine.objects.filter(plan__student=was):
            line_guard(line, None)


def enrollment_guard(was: Enrollment | None, now: Enrollment | None) -> None:
    """At which building a student was, and so which days were in session, stays as it was in closed months."""
    student = (now or was).student  # type: ignore[union-attr]  # one of them is there
    spans = changed_days(
        _stay_days(was), _stay_days(now), same=same_values(was, now, ("building_id", "is_program"))
    )
    if spans:
        lines = ServiceLine.objects.filter(plan__student=student)
        days_closed_require(student.district, set(lines.values_list("provider", flat=True)), spans)


def _stay_days(row: Enrollment | None) -> Days | None:
    return (row.first_day or EVER, row.last_day) if row is not None else None


def rules_guard(was: LedgerSettings | None, now: LedgerSettings | None) -> None:
    """The rules of minutes stay as they were in closed months."""
    rows = [row for row in (was, now) if row is not None]
    before = _rules_before(rows[0]) if len(rows) == 1 else None
    if before is not None and same_values(before, rows[0], RULES_COUNTED):
        return
    spans = changed_days(_from(was), _from(now), same=same_values(was, now, RULES_COUNTED))
    days_closed_require(rows[-1].district, None, spans)


def _rules_before(row: LedgerSettings) -> LedgerSettings:
    """The rules that hold up to a row's first day; those that ship where there are none."""
    rows = LedgerSettings.objects.filter(district=row.district, first_day__lt=row.first_day)
    return rows.first() or LedgerSettings(district=row.district)


def _from(row: LedgerSettings | ReasonEffect | None) -> Days | None:
    return (row.first_day, None) if row is not None else None


def effect_guard(was: ReasonEffect | None, now: ReasonEffect | None) -> None:
    """What a reason does from a day on stays as it was in closed months."""
    rows = [row for row in (was, now) if row is not None]
    spans = changed_days(_from(was), _from(now), same=same_values(was, now, ("effect",)))
    days_closed_require(rows[-1].district, None, spans)


def reason_guard(was: MissedReason | None, now: MissedReason | None) -> None:
    """What a reason does to missed minutes stays as it was in closed months; a new one is in no log yet."""
    if was is not None and now is not None and was.effect != now.effect:
        days_closed_require(now.district, None, [(EVER, None)])
