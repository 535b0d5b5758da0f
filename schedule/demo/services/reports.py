"""Progress reports behind the demo: some begun, some read and signed, and one page for an annual meeting."""

import datetime as dt

from accounts.models import Person
from caseload.plans.models import Student
from schedule.demo.services.log import evening_of
from schedule.telling.models import ProgressReport
from schedule.telling.selectors.reports import period_to_tell, periods_of, shown_sentences
from schedule.telling.services.reports import report_begin, report_sign, sentences_save

BEGUN, SIGNED = 10, 5
"""Of the marking period that was over last: so many reports, and so many of them signed."""


def past_reports_tell(teacher: Person, first: dt.date, last: dt.date) -> int:
    """Begin and sign reports as on the evening of a last day, of data since a first one; how many there are.

    Those of a marking period that still runs are begun only.
    """
    with_goals = Student.objects.visible_to(teacher).filter(goals__isnull=False)
    students = list(with_goals.order_by("building__name", "code").distinct()[: BEGUN + 1])
    if not students:
        return 0
    annual = _begin(teacher, students[0], "Annual meeting", ProgressReport.Kind.ANNUAL, (first, last), last)
    _sign(teacher, annual, last)
    period = period_to_tell(periods_of(teacher, last), last)
    if period is None:
        return 1
    dates = period.first_day, period.last_day
    for number, student in enumerate(students[1:]):
        report = _begin(teacher, student, period.name, ProgressReport.Kind.PERIOD, dates, last)
        if number < SIGNED and period.last_day <= last:
            _sign(teacher, report, last)
    return ProgressReport.objects.visible_to(teacher).count()


def _begin(
    teacher: Person, student: Student, name: str, kind: str, dates: tuple[dt.date, dt.date], day: dt.date
) -> ProgressReport:
    return report_begin(
        actor=teacher, student=student, kind=kind, name=name, first_day=dates[0], last_day=dates[1], today=day
    )


def _sign(teacher: Person, report: ProgressReport, day: dt.date) -> None:
    """Every part read as it was drafted, and signed."""
    parts, now = shown_sentences(report), evening_of(teacher, day)
    row = sentences_save(
        actor=teacher,
        report=report,
        words={one.pk: one.text for one in parts},
        read={one.pk for one in parts},
        expected_revision=report.revision,
        now=now,
    )
    report_sign(actor=teacher, report=row, name=str(teacher), expected_revision=row.revision, today=day, now=now)
