"""Reads of compensatory time."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import replace

from caseload.delivery.models import CompensatoryTime
from caseload.delivery.rows import LoggedEntry
from caseload.ledger.compensatory import CompensatoryAccount


def compensatory_of(
    students: Collection[int], as_of: dt.date, moment: dt.datetime | None = None
) -> dict[int, list[CompensatoryAccount]]:
    """What teams decided to give these students up to a date (included), by student, the oldest decision first.

    With a `moment` only what was recorded by then. Nothing is given of it yet: that is in the log. One query.
    """
    rows = CompensatoryTime.objects.filter(student__in=students, decided_on__lte=as_of)
    if moment is not None:
        rows = rows.filter(recorded_at__lte=moment)
    found: dict[int, list[CompensatoryAccount]] = defaultdict(list)
    for row in rows.order_by("decided_on", "pk"):
        account = CompensatoryAccount(
            row.pk, row.minutes, row.decided_by, row.decided_on, row.until, as_of, 0, row.note
        )
        found[row.student_id].append(account)
    return found


def with_given(
    accounts: Iterable[CompensatoryAccount], logged: Collection[LoggedEntry]
) -> tuple[CompensatoryAccount, ...]:
    """Compensatory time with what the log gives of each."""
    return tuple(
        replace(one, given=sum(entry.delivered or 0 for entry in logged if entry.compensatory == one.id))
        for one in accounts
    )
