"""How a background run over a teacher's weeks begins: weeks planned one by one, a term, make-ups.

All of them make drafts of the same weeks, so a teacher has one at a time, whichever it is.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from accounts.dates import span_words
from accounts.errors import ApplicationError
from jobs.dispatch import job_is_unsent
from jobs.selectors import UNFINISHED
from jobs.services import job_add, job_announce_later, job_stop_ask
from schedule.calendar.hooks import calendars_refresh
from schedule.calendar.services.busy import busy_ask_due
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.models import PlanRun

ATTEMPTS = 6
"""A run goes on from what it had, so being interrupted several times costs little."""


@dataclass(frozen=True, slots=True)
class RunAsked:
    """A run that somebody asks for: its row, not saved yet, the kind of its job, and what else the job is told.

    ``is_same``: whether a run of this kind was asked for the same, so that pressing twice gives that one.
    """

    run: PlanRun
    kind: str
    is_same: Callable[[PlanRun], bool]
    payload: Mapping[str, Any]

    def is_again(self, other: PlanRun) -> bool:
        """Whether another run does what this one would."""
        return other.job.kind == self.kind and self.is_same(other)


def run_begin(asked: RunAsked) -> PlanRun:
    """Save a run with its job, or give the one under way if it is the same; call it inside a transaction.

    A run that could not be handed to a worker is sent again, or stopped if another is asked for. A run that is
    begun now is the one given in: it has a job. Raises ``ApplicationError`` (code ``run_under_way``) where
    something else of this teacher is being planned.
    """
    run = asked.run
    key = f"plan_week:{run.teacher_id}"
    under_way = _under_way(key)
    if under_way is not None and not _made_way(under_way, asked):
        return _again_or_refuse(under_way, asked)
    # Asked first, so done first: the plan finds what is in the teacher's and the school's calendars now.
    busy_ask_due(teacher=run.teacher)
    calendars_refresh(run.district)
    payload = {
        "teacher": run.teacher_id,
        "first_date": run.first_date,
        "last_date": run.last_date,
        **asked.payload,
    }
    job = job_add(
        kind=asked.kind, payload=payload, district=run.district_id, unique_key=key, attempts_allowed=ATTEMPTS
    )
    added_meanwhile = PlanRun.objects.filter(job=job).select_related("job").first()
    if added_meanwhile is not None:
        return _again_or_refuse(added_meanwhile, asked)
    run.job = job
    run.full_clean(exclude=["summary"])
    run.save()
    return run


def _under_way(key: str) -> PlanRun | None:
    return PlanRun.objects.filter(job__unique_key=key, job__state__in=UNFINISHED).select_related("job").first()


def _made_way(under_way: PlanRun, asked: RunAsked) -> bool:
    """Whether a run that no worker has heard of was stopped for another one; for the same it is sent again."""
    if not job_is_unsent(under_way.job):
        return False
    if asked.is_again(under_way):
        job_announce_later(under_way.job)
        return False
    job_stop_ask(job=under_way.job)
    return under_way.job.is_over


def _again_or_refuse(under_way: PlanRun, asked: RunAsked) -> PlanRun:
    if asked.is_again(under_way):
        return under_way
    aims = {under_way.aim, asked.run.aim}
    choice = f" by “{AIM_WORDS[Aim(under_way.aim)]}”" if "" not in aims and len(aims) > 1 else ""
    raise ApplicationError(
        f"The weeks from {span_words(under_way.first_date, under_way.last_date)} are being planned right "
        f"now{choice}. Wait for that, or stop it.",
        code="run_under_way",
    )
