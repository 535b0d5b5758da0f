"""Asking for a step that is done whole in the background, and what becomes of it.

Its effect and the end of its job are one transaction: a worker that is killed leaves nothing, and whoever has the
job next does it anew.
"""

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import working_as
from accounts.services import audit_write, coordinator_require, district_of
from jobs.services import job_add, job_stop_ask
from schedule.long_steps.models import LongStep

KIND = "long_step"
OF_STUDENT = "student."


class StepStoppedError(Exception):
    """Somebody asked for an end: what was written so far goes with the transaction."""


type Report = Callable[[int], object]
"""Told how many parts are written so far."""


def nobody_waits(done: int) -> None:
    """For a step that nobody watches."""
    del done


@dataclass(frozen=True, slots=True)
class StepAsked:
    """What a step is about (`number`), how it is called, how many parts it writes, the revision that was seen."""

    kind: LongStep.Kind
    number: int
    title: str
    parts: int
    revision: int = 0


def step_ask(*, actor: Person, asked: StepAsked) -> LongStep:
    """Have a step done; the job is added in the same transaction. Whoever calls has asked what can be refused now.

    One step of a district is under way at a time. Asking for the same again gives that one. Raises
    ``ApplicationError``: 403 for anybody but a coordinator, ``under_way`` for another.
    """
    coordinator_require(actor)
    district = district_of(actor)
    with transaction.atomic():
        job = job_add(kind=KIND, payload={}, district=district.pk, unique_key=f"{KIND}:{district.pk}")
        under_way = LongStep.objects.filter(job=job).select_related("job", "district", "asked_by").first()
        if under_way is not None:
            return _same_or_refuse(under_way, asked)
        row = LongStep(
            district=district, kind=asked.kind, number=asked.number, title=asked.title, parts=asked.parts,
            revision=asked.revision, asked_by=actor, role=actor.role, job=job,
        )  # fmt: skip
        row.full_clean()
        row.save()
        changes: dict[str, list[object]] = {"kind": [None, row.kind], "number": [None, row.number]}
        audit_write(actor=actor, district=district, action="step_ask", row=row, changes=changes)
    return row


def _same_or_refuse(under_way: LongStep, asked: StepAsked) -> LongStep:
    seen = (under_way.kind, under_way.number, under_way.revision)
    if seen != (asked.kind, asked.number, asked.revision):
        raise ApplicationError(
            f"{under_way.get_kind_display()} ({under_way.title}) is under way. Wait for that, then ask again.",
            code="under_way",
        )
    return under_way


def step_stop(*, actor: Person, row: LongStep) -> LongStep:
    """Ask for an end: then nothing of it is done. One that is over stays as it ended."""
    coordinator_require(actor)
    with transaction.atomic():
        job_stop_ask(job=row.job)
        audit_write(actor=actor, district=row.district, action="step_stop", row=row)
    return row


def step_of_job(job_id: str) -> LongStep | None:
    """The step that a job does."""
    rows = LongStep.objects.select_related("job", "district", "asked_by__district")
    return rows.filter(job_id=job_id).first()


def step_work(
    *,
    row: LongStep,
    act: Callable[[Person, LongStep, Report], object],
    note: Callable[[Mapping[str, Any]], object],
    stop_asked: Callable[[], bool],
    finishing: Callable[[], AbstractContextManager[None]],
) -> None:
    """A job's part: do it in the name of who asked, or keep what refuses it, and nothing else.

    The role must be held today, and what it may is asked anew by the services. The job ends last in the
    transaction: until then its row is free, so that others read how far it is.
    """

    def report(done: int) -> None:
        note({"done": done, "total": row.parts})
        if stop_asked():
            raise StepStoppedError

    try:
        with transaction.atomic():
            act(working_as(row.asked_by, row.role), row, report)
            with finishing():
                pass
    except StepStoppedError:
        return  # nothing is written, and the runner ends the job as stopped
    except (ValidationError, ApplicationError) as error:
        with finishing():
            _refuse(row, error)


def _refuse(row: LongStep, error: ValidationError | ApplicationError) -> None:
    row.refused = _refused(error)
    row.save(update_fields=["refused"])


def _refused(error: ValidationError | ApplicationError) -> dict[str, object]:
    if isinstance(error, ApplicationError):
        return {"messages": [error.message]}
    by_field = error.message_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.messages}
    students = {
        name.removeprefix(OF_STUDENT): " ".join(texts)
        for name, texts in by_field.items()
        if name.startswith(OF_STUDENT)
    }
    messages = [text for name, texts in by_field.items() if not name.startswith(OF_STUDENT) for text in texts]
    return {"messages": messages, "students": students}
