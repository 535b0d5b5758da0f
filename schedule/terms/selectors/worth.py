"""What usual times are worth where nobody has said it for this term."""

import datetime as dt

from accounts.models import District, Person
from caseload.delivery.selectors.log import settings_of
from caseload.ledger.defaults import USUAL_TIMES_WORTH
from schedule.terms.selectors.terms import terms_of


def district_worth(district: District, first: dt.date) -> int:
    """Minutes of driving a week that leaving usual times must save, by the district's rules of a date."""
    return settings_of(district, first).usual_times_worth


def worth_offered(viewer: Person, teacher: Person, first: dt.date) -> int:
    """What is offered for a term from a date: what the teacher asked for the last one, else what the district says.

    A last term with the district's number of its own first date says nothing of its teacher.
    """
    if teacher.district is None:
        return USUAL_TIMES_WORTH
    last = next(iter(terms_of(viewer, teacher)), None)
    if last is None or last.worth == district_worth(last.district, last.run.first_date):
        return district_worth(teacher.district, first)
    return last.worth
