"""Reads of closed months."""

import datetime as dt

from caseload.months.models import LogMonth, LogMonthAct, month_of


def closed_since(teacher_id: int, day: dt.date) -> LogMonthAct | None:
    """How a date's month of a teacher's log was closed, if it is. One query."""
    acts = LogMonthAct.objects.filter(
        month__teacher=teacher_id,
        month__month=month_of(day),
        month__status=LogMonth.Status.CLOSED,
        act=LogMonthAct.Act.CLOSED,
    )
    return acts.select_related("by").last()


def has_log_months(district_id: int) -> bool:
    """Whether any month of the district's log was ever signed or closed: without one, none refuses a change."""
    return LogMonth.objects.filter(district=district_id).exists()
