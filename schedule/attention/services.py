"""One press for what several services share: their minutes planned as make-ups."""

import datetime as dt

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.shared import shared_causes
from schedule.make_ups.selectors.slots import MOST_WEEKS
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.models import PlanRun


def shared_cause_plan(*, actor: Person, teacher: Person, cause: str, today: dt.date) -> PlanRun:
    """Plan make-ups for the services that share a cause, in the background, over the weeks that may hold them.

    Raises `ApplicationError`: ``cause_gone`` where no such cause stands on the attention page anymore, 404 for a
    teacher who isn't the actor's to plan, and as `make_ups_plan` does.
    """
    found = shared_causes(attention(actor, teacher, today))
    shared = next((one for one in found if one.plannable and one.cause == cause), None)
    if shared is None:
        raise ApplicationError(
            "These services don't wait together anymore. Look at the page again: what is left stands there.",
            code="cause_gone",
        )
    return make_ups_plan(actor=actor, teacher=teacher, today=today, weeks=MOST_WEEKS, which=shared.which())
