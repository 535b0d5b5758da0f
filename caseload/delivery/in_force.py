"""How a service line counts, and on which days it is in force."""

import datetime as dt
from collections.abc import Iterable
from itertools import groupby

from caseload.ledger.terms import counts_by
from caseload.plans.enrollments import Run, runs_of
from caseload.plans.frequency import Frequency, FrequencyUnit
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


def counted_together(line: ServiceLine, versions: Iterable[ServiceLine]) -> tuple[ServiceLine, ...]:
    """The versions of a service, oldest first, that follow each other and count as a line does, it included.

    Their turns, of weeks or of school days, and a whole service begin with the first of them and end with the last:
    a renewal in the middle of a turn begins none.
    """
    season = (one for one in versions if one.extended_year == line.extended_year)
    groups = (tuple(group) for _, group in groupby(season, key=_counts_by))
    return next((group for group in groups if any(one.pk == line.pk for one in group)), (line,))


def _counts_by(line: ServiceLine) -> tuple[object, ...]:
    return counts_by(FrequencyUnit(line.unit), line.cycle_days, line.weeks_of, str(line.plan_id))


def runs_in_force(line: ServiceLine) -> tuple[Run, ...]:
    """The days of the line on which the student is enrolled: a run, or several with time away between them."""
    return runs_of(stays_of(line.plan.student), line.start, line.end)


def is_in_force(line: ServiceLine, day: dt.date) -> bool:
    """Whether the line is owed on a date."""
    return any(first <= day <= last for first, last in runs_in_force(line))
