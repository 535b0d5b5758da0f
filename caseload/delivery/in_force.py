"""How a service line counts, and on which days it is in force."""

import datetime as dt

from caseload.plans.enrollments import Run, runs_of
from caseload.plans.frequency import Frequency
from caseload.plans.models import ServiceLine, stays_of


def frequency_of(line: ServiceLine) -> Frequency:
    """A line's parts as a frequency; raises `FrequencyError`."""
    return line.frequency


def in_force(line: ServiceLine) -> tuple[dt.date, dt.date]:
    """First and last date of the line, no sooner and no later than the student is enrolled anywhere.

    The last is before the first where the student isn't enrolled on any day of it.
    """
    runs = runs_in_force(line)
    return (runs[0][0], runs[-1][1]) if runs else (line.start, line.start - dt.timedelta(days=1))


def runs_in_force(line: ServiceLine) -> tuple[Run, ...]:
    """The days of the line on which the student is enrolled: a run, or several with time away between them."""
    return runs_of(stays_of(line.plan.student), line.start, line.end)


def is_in_force(line: ServiceLine, day: dt.date) -> bool:
    """Whether the line is owed on a date."""
    return any(first <= day <= last for first, last in runs_in_force(line))
