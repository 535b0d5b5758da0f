"""What a closed month refuses: every service that changes the past of a log or of its figures asks here.

A district may choose to keep such changes as dated amendments (`LogMonthRules`); then nothing is refused here, and
the month shows what differs from what was closed.
"""

import datetime as dt
from collections.abc import Collection

from accounts.errors import ApplicationError
from caseload.months.models import LogMonth, LogMonthRules, month_of

CLOSED = (
    "{months} of the log of {teacher} {are} closed. A coordinator can reopen {it} under “Months of the log”, with "
    "a reason; then this can be changed, and the month is signed and closed again."
)


def amends(district_id: int) -> bool:
    """Whether a district keeps changes in closed months as dated amendments."""
    row = LogMonthRules.objects.filter(district=district_id).first()
    return row is not None and row.afterwards == LogMonthRules.Afterwards.AMEND


def closed_month_require(
    *, district_id: int, teachers: Collection[int] | None, first: dt.date, last: dt.date | None
) -> list[LogMonth]:
    """Refuse a change of days that lie in a closed month; call it inside the change's transaction.

    `teachers` are those whose services it concerns (None: anybody's of the district), `last` None is without end;
    both dates are included. Holds the months, so that none is closed while the change is being saved. Raises
    `ApplicationError` (code ``month_closed``), unless the district amends: then the closed months come back.
    """
    rows = LogMonth.objects.select_for_update(of=("self",)).filter(district=district_id, month__gte=month_of(first))
    if teachers is not None:
        rows = rows.filter(teacher__in=teachers)
    if last is not None:
        rows = rows.filter(month__lte=month_of(last))
    closed = [row for row in rows.select_related("teacher").order_by("month", "teacher") if row.is_closed]
    if closed and not amends(district_id):
        raise ApplicationError(_closed_words(closed), code="month_closed")
    return closed


def _closed_words(closed: list[LogMonth]) -> str:
    """The first teacher's months, and how many others."""
    mine = [row for row in closed if row.teacher_id == closed[0].teacher_id]
    one = len(mine) == 1
    words = f"{mine[0].month:%B %Y}" if one else f"{mine[0].month:%B %Y} and {len(mine) - 1} later"
    others = len({row.teacher_id for row in closed}) - 1
    more = f" (and of {others} other teacher{'s' if others > 1 else ''})" if others else ""
    teacher = f"{mine[0].teacher}{more}"
    return CLOSED.format(months=words, teacher=teacher, are="is" if one else "are", it="it" if one else "them")
