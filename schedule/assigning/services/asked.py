"""Having a proposal taken over or back in the background. What can be refused at once is refused here."""

import datetime as dt

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import coordinator_require
from schedule.assigning.models import AssigningProposal
from schedule.assigning.selectors.standing import proposal_get
from schedule.assigning.services.taking_over import (
    CHANGED,
    proposal_given,
    proposal_take_back,
    proposal_take_over,
    taken_require,
)
from schedule.long_steps.models import LongStep
from schedule.long_steps.services import Report, StepAsked, step_ask


def proposal_take_over_ask(*, actor: Person, row: AssigningProposal, now: dt.datetime | None = None) -> LongStep:
    """Have it taken over as it stands now; one that is changed meanwhile isn't. Raises as `proposal_given` does."""
    given = proposal_given(actor=actor, row=row, now=now)
    return step_ask(actor=actor, asked=_asked(LongStep.Kind.TAKE_OVER, row, len(given)))


def proposal_take_back_ask(*, actor: Person, row: AssigningProposal) -> LongStep:
    """Have its hand-overs taken back. Raises ``ApplicationError``: 403, ``nothing_to_undo``, ``under_way``."""
    coordinator_require(actor)
    taken_require(row)
    return step_ask(actor=actor, asked=_asked(LongStep.Kind.TAKE_OVER_BACK, row, len(row.handed)))


def proposal_step(actor: Person, step: LongStep, report: Report) -> None:
    """Do what was asked for. Raises as taking over and back do; ``not_found`` where the proposal is gone."""
    row = proposal_get(actor, step.number)
    if step.kind == LongStep.Kind.TAKE_OVER_BACK:
        proposal_take_back(actor=actor, row=row)
        return
    if row.revision != step.revision:
        raise ApplicationError(CHANGED, code="changed_since")
    proposal_take_over(actor=actor, row=row, report=report)


def _asked(kind: LongStep.Kind, row: AssigningProposal, parts: int) -> StepAsked:
    return StepAsked(kind, row.pk, row.title, parts, row.revision)
