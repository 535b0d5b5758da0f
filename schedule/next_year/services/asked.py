"""Having a year started or taken back in the background. What can be refused at once is refused here."""

import datetime as dt

from accounts.models import Person
from schedule.long_steps.models import LongStep
from schedule.long_steps.services import Report, StepAsked, step_ask
from schedule.next_year.models import NextYear
from schedule.next_year.selectors.drafts import next_year_get
from schedule.next_year.services.starting import next_year_ready, next_year_start
from schedule.next_year.services.taking_back import next_year_may_go_back, next_year_take_back


def next_year_start_ask(*, actor: Person, row: NextYear, now: dt.datetime | None = None) -> LongStep:
    """Have it started. Raises ``ApplicationError``: 403, ``not_ready``, ``under_way``."""
    students = next_year_ready(actor=actor, row=row, now=now)
    return step_ask(actor=actor, asked=StepAsked(LongStep.Kind.START_YEAR, row.pk, row.name, students))


def next_year_take_back_ask(*, actor: Person, row: NextYear) -> LongStep:
    """Have it taken back. Raises ``ApplicationError``: 403, ``nothing_to_undo``, ``logged``, ``under_way``."""
    students = next_year_may_go_back(actor=actor, row=row)
    return step_ask(actor=actor, asked=StepAsked(LongStep.Kind.YEAR_BACK, row.pk, row.name, students))


def next_year_step(actor: Person, step: LongStep, report: Report) -> None:
    """Do what was asked for. Raises as starting and taking back do; ``not_found`` where the draft is gone."""
    act = next_year_start if step.kind == LongStep.Kind.START_YEAR else next_year_take_back
    act(actor=actor, row=next_year_get(actor, step.number), report=report)
