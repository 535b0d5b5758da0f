"""Minutes of a student's services, period by period, as a change of services is compared with what was before."""

import datetime as dt
from collections import defaultdict

from caseload.ledger.changes import Figures, PeriodFigures, period_figures
from caseload.ledger.terms import Span
from caseload.plans.models import Student
from schedule.log.selectors.ledger import ledgers_of


def figures_by_service(student: Student, today: dt.date) -> Figures:
    """Owed and delivered in each period of the school year, and what is open up to today.

    Of periods that begin later nothing is open yet.
    """
    (now,) = ledgers_of(student.district, [student], today)
    last = now.year.last if now.year is not None else today
    (whole,) = ledgers_of(student.district, [student], max(last, today))
    found: dict[int, dict[Span, PeriodFigures]] = defaultdict(dict)
    for one in whole.lines:
        if one.ledger is not None:
            later = period_figures(one.ledger.periods)
            found[one.line.service_id] |= {
                span: PeriodFigures(figures.owed, figures.delivered) for span, figures in later.items()
            }
    for one in now.lines:
        if one.ledger is not None:
            found[one.line.service_id] |= period_figures(one.ledger.periods)
    return found
