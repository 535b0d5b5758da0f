"""The reports of one marking period, begun and taken back together."""

import datetime as dt
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.models import Person
from accounts.services import permission_require
from caseload.plans.models import Student
from schedule.calendar.models import MarkingPeriod
from schedule.telling.models import ProgressReport
from schedule.telling.selectors.reports import period_students, untouched_of_period
from schedule.telling.services.reports import WRITE, report_begin, report_remove

MOST_AT_ONCE = 60
"""Reports that one press begins: a few seconds."""


@dataclass(frozen=True, slots=True)
class PeriodBegun:
    """What a press did: `begun` reports; `refused` students, each with why; `left` for another press."""

    begun: int
    refused: tuple[tuple[Student, str], ...] = ()
    left: int = 0


def period_reports_begin(*, actor: Person, period: MarkingPeriod, today: dt.date) -> PeriodBegun:
    """Begin the report of everybody who has none for this marking period, at most `MOST_AT_ONCE`.

    Safe to send twice. Raises `ApplicationError` (403) for the role.
    """
    permission_require(actor, WRITE)
    waiting = [one.student for one in period_students(actor, period) if one.report is None]
    begun, refused = 0, []
    for student in waiting[:MOST_AT_ONCE]:
        try:
            report_begin(
                actor=actor,
                student=student,
                kind=ProgressReport.Kind.PERIOD,
                name=period.name,
                first_day=period.first_day,
                last_day=period.last_day,
                today=today,
            )
        except ValidationError as error:
            refused.append((student, " ".join(error.messages)))
        else:
            begun += 1
    return PeriodBegun(begun, tuple(refused), len(waiting[MOST_AT_ONCE:]))


def period_reports_take_back(*, actor: Person, period: MarkingPeriod, now: dt.datetime) -> int:
    """Remove the period's drafts that the actor began and nobody has worked on since; how many."""
    permission_require(actor, WRITE)
    with transaction.atomic():
        rows = list(untouched_of_period(actor, period))
        for row in rows:
            report_remove(actor=actor, report=row, expected_revision=row.revision, now=now)
    return len(rows)
