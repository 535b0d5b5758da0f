"""How far a step is, for pages and the API."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from caseload.plans.models import Student
from caseload.plans.names import student_names
from jobs.models import Job
from jobs.selectors import UNFINISHED
from schedule.long_steps.models import LongStep

Kind = LongStep.Kind
OF_YEAR: Final = (Kind.START_YEAR, Kind.YEAR_BACK)
OF_PROPOSAL: Final = (Kind.TAKE_OVER, Kind.TAKE_OVER_BACK)
DONE = {
    Kind.START_YEAR: "Everything holds from its first day on. Days before stay as they are.",
    Kind.YEAR_BACK: "Everybody is where this year has them, and the draft is there to be worked on.",
    Kind.TAKE_OVER: "Weeks that are planned from the first day on follow it.",
    Kind.TAKE_OVER_BACK: "Every student is with the teacher from before.",
}


class LongStepState(StrEnum):
    """Where a step stands. Only one that is done has changed anything."""

    WAITS = "waits"
    AT_WORK = "at_work"
    DONE = "done"
    REFUSED = "refused"
    STOPPED = "stopped"
    BROKE_OFF = "broke_off"


_OF_JOB = {
    Job.State.WAITING: LongStepState.WAITS,
    Job.State.RUNNING: LongStepState.AT_WORK,
    Job.State.DONE: LongStepState.DONE,
    Job.State.STOPPED: LongStepState.STOPPED,
    Job.State.FAILED: LongStepState.BROKE_OFF,
}


@dataclass(frozen=True, slots=True)
class StudentRefused:
    """A student whose records can't be written, and why."""

    student_id: int
    name: str
    message: str


@dataclass(frozen=True, slots=True)
class LongStepView:
    """A step as its page shows it.

    ``parts``: students or hand-overs that it writes, ``done`` of them so far (0 where that isn't known: an SQLite
    database tells it at the end). ``messages``: why it was refused, and ``students``: because of whom.
    """

    step_id: int
    kind: str
    kind_label: str
    number: int
    title: str
    parts: int
    done: int
    percent: int
    asked_by: str
    asked_at: dt.datetime
    state: str
    is_over: bool
    stop_asked: bool
    message: str
    error: str
    messages: tuple[str, ...]
    students: tuple[StudentRefused, ...]


def step_get(viewer: Person, pk: int) -> LongStep:
    """A step that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    row = LongStep.objects.visible_to(viewer).select_related("job", "district", "asked_by").filter(pk=pk).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def step_under_way(kinds: Collection[str], number: int) -> LongStep | None:
    """The step about a row that waits or is at work."""
    rows = LongStep.objects.filter(kind__in=kinds, number=number, job__state__in=UNFINISHED)
    return rows.select_related("job").first()


def step_view(viewer: Person, row: LongStep) -> LongStepView:
    """What a page shows of a step."""
    job = row.job
    done = int(job.progress.get("done", 0))
    state = LongStepState.REFUSED if row.refused else _OF_JOB[Job.State(job.state)]
    return LongStepView(
        step_id=row.pk,
        kind=row.kind,
        kind_label=row.get_kind_display(),
        number=row.number,
        title=row.title,
        parts=row.parts,
        done=done,
        percent=100 * done // max(1, row.parts),
        asked_by=str(row.asked_by),
        asked_at=row.asked_at,
        state=state,
        is_over=job.is_over,
        stop_asked=job.stop_asked,
        message=_message(row, state, done),
        error=job.error,
        messages=tuple(row.refused.get("messages", ())),
        students=_students_told(viewer, row.refused.get("students", {})),
    )


def _message(row: LongStep, state: LongStepState, done: int) -> str:
    """How far it is, or what has come of it."""
    if state == LongStepState.DONE:
        return DONE[Kind(row.kind)]
    if state == LongStepState.WAITS:
        return "Waiting for a free worker"
    noun = "student" if row.kind in OF_YEAR else "hand-over"
    parts = f"{row.parts} {noun}{'' if row.parts == 1 else 's'}"
    return f"{done} of {parts} written" if done else f"{parts} to write"


def _students_told(viewer: Person, told: dict[str, str]) -> tuple[StudentRefused, ...]:
    """By name, for whoever may see them; students who were erased since are left out."""
    rows = Student.objects.visible_to(viewer).in_bulk([int(pk) for pk in told])
    names = student_names(viewer)
    found = [StudentRefused(pk, names.full.get(pk, row.code), told[str(pk)]) for pk, row in rows.items()]
    return tuple(sorted(found, key=lambda one: one.name))
