"""What closed months hold against changes of the log, of services and of the rules of minutes.

Guards are asked by `accounts.services.record_save` and `record_delete` for every change of their tables' rows, by
whichever service (see accounts.guards); the log's own services ask `entries_closed_require`.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable

from django.db.models import Model

from accounts.models import District
from caseload.delivery.models import LedgerSettings, MissedReason
from caseload.months.models import LogMonth, month_of
from caseload.months.services import closed_month_require
from caseload.months.spans import Days, changed_days
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.plans.services import FREQUENCY_PARTS

EVER = dt.date.min
LINE_COUNTED = (*FREQUENCY_PARTS, "service_type", "provider_id")
RULES_COUNTED = ("short_week", "carry_ahead", "counts_from")


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


def rules_guard(was: LedgerSettings | None, now: LedgerSettings | None) -> None:
    """The rules of minutes stay as they were in closed months."""
    rows = [row for row in (was, now) if row is not None]
    if not same_values(was or LedgerSettings(), now or LedgerSettings(), RULES_COUNTED):
        days_closed_require(rows[-1].district, None, [(EVER, None)])


def reason_guard(was: MissedReason | None, now: MissedReason | None) -> None:
    """What a reason does to missed minutes stays as it was in closed months; a new one is in no log yet."""
    if was is not None and now is not None and was.effect != now.effect:
        days_closed_require(now.district, None, [(EVER, None)])
