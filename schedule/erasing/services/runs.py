"""Lists of what would be erased: made, confirmed, and done in the background, a student at a time.

Erasing can't be taken back. It takes the digest of a list that was shown, and is refused where the list of now is
another one.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE, NOT_YOUR_ROLE, audit_write
from caseload.plans.models import Student
from caseload.retention.models import ErasedRows, ErasureRun, RetentionRule
from caseload.retention.schedule import STUDENTS
from caseload.retention.services import KEEP
from jobs.models import Job
from jobs.selectors import UNFINISHED
from jobs.services import job_add
from schedule.erasing.listing import (
    ErasureList,
    ListedKind,
    ListedStudent,
    listing_digest,
    listing_from_json,
    listing_to_json,
)
from schedule.erasing.selectors.due import due_by_request, due_by_rules
from schedule.erasing.selectors.kinds import rows_of_kind
from schedule.erasing.selectors.lists import listed_by_request, listed_by_rules, rules_on
from schedule.erasing.selectors.rows import counted
from schedule.erasing.services.removing import history_blank, rows_remove, student_remove

KIND = "erase_records"
CHANGED = (
    "The list isn’t what it was when it was shown: records or reasons have changed since. "  # noqa: RUF001 -- shown
    "Nothing was erased. Make a new list and look at it."
)
LATER = "Choose today or an earlier day: what isn’t over yet can’t be counted from."  # noqa: RUF001 -- as above
ALREADY = "This list is confirmed already."
BUSY = "Another list is being erased just now. Wait until it is done, then make a new list."
NOTHING = "Nothing on this list may be erased."
SINCE = "changed"

type Keep = Callable[[Callable[[], object]], object]
type Report = Callable[[Mapping[str, Any]], None]


def erasure_list(*, actor: Person, as_of: dt.date | None = None, student: Student | None = None) -> ErasureRun:
    """Make a list of what would be erased, by the district's rules or of one student; erases nothing.

    Raises `ApplicationError`: 403 for anybody but a coordinator, 404 for a student out of sight, ``later``.
    """
    district = _district_require(actor)
    today = today_of(actor)
    day = as_of or today
    if day > today:
        raise ApplicationError(LATER, code="later")
    if student is not None and not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    number = student.pk if student is not None else None
    with transaction.atomic():
        listing = _listing(district, number, day, today)
        run = ErasureRun.objects.create(
            district=district,
            made_by=actor,
            made_at=timezone.now(),
            as_of=day,
            student_number=number,
            digest=listing_digest(listing),
            listed=listing_to_json(listing),
        )
        audit_write(actor=actor, district=district, action="erasure_list", row=run)
    return run


def erasure_confirm(*, actor: Person, run: ErasureRun, digest: str) -> ErasureRun:
    """Have what a list names erased in the background. It can't be taken back.

    `digest` is the list's, as it was shown. Raises `ApplicationError`: 403 for the role, 404 out of sight,
    ``already_confirmed``, ``nothing``, ``busy``, ``changed_since`` where the list of now is another one.
    """
    district = _district_require(actor)
    with transaction.atomic():
        found = ErasureRun.objects.changeable_by(actor).select_for_update(of=("self",)).filter(pk=run.pk).first()
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        _confirmable_require(found, digest, today_of(actor))
        job = job_add(
            kind=KIND, payload={"run": found.pk}, district=district.pk, unique_key=f"{KIND}:{district.pk}"
        )
        found.confirmed_by, found.confirmed_at, found.job = actor, timezone.now(), job
        found.save(update_fields=["confirmed_by", "confirmed_at", "job"])
        audit_write(
            actor=actor,
            district=district,
            action="erasure_confirm",
            row=found,
            changes={"digest": [None, found.digest]},
        )
    return found


def _confirmable_require(run: ErasureRun, digest: str, today: dt.date) -> None:
    if run.confirmed_at is not None:
        raise ApplicationError(ALREADY, code="already_confirmed")
    if Job.objects.filter(unique_key=f"{KIND}:{run.district_id}", state__in=UNFINISHED).exists():
        raise ApplicationError(BUSY, code="busy")
    now = _listing(run.district, run.student_number, run.as_of, today)
    if not digest == run.digest == listing_digest(now):
        raise ApplicationError(CHANGED, code="changed_since")
    if now.is_empty:
        raise ApplicationError(NOTHING, code="nothing")


def _listing(district: District, student: int | None, as_of: dt.date, today: dt.date) -> ErasureList:
    if student is not None:
        return listed_by_request(district, student, as_of, today)
    return listed_by_rules(district, as_of, today)


def _district_require(actor: Person) -> District:
    if actor.district is None or not actor.has_perm(KEEP):
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    return actor.district


def run_of_job(job_id: str) -> ErasureRun | None:
    """The confirmed list that a job erases."""
    return ErasureRun.objects.select_related("district", "confirmed_by").filter(job_id=job_id).first()


def erasure_work(*, run: ErasureRun, keep: Keep, report: Report) -> None:
    """Erase what a confirmed list names: each student, and each kind, in a transaction of its own (`keep`).

    After an interruption it goes on with what isn't erased yet. What was reason to stay by now is held back.
    """
    listing = listing_from_json(run.listed)
    work: list[ListedStudent | ListedKind] = [*listing.students, *(one for one in listing.kinds if one.rows)]
    for number, one in enumerate(work):
        report({"message": "Erasing.", "percent": 100 * number // len(work)})
        if isinstance(one, ListedStudent):
            keep(lambda one=one: student_erase(run=run, listed=one))  # type: ignore[misc]
        else:
            keep(lambda one=one: kind_erase(run=run, listed=one))  # type: ignore[misc]


def erasure_end(*, run: ErasureRun) -> None:
    """Note that all is done; call it in the transaction of the job's end."""
    ErasureRun.objects.filter(pk=run.pk).update(ended_at=timezone.now())


def student_erase(*, run: ErasureRun, listed: ListedStudent) -> bool:
    """Erase one entry of a list, unless it is erased already or something has come up since; whether it was.

    Call it inside a transaction.
    """
    done = ErasedRows.objects.filter(run=run, kind=listed.kind, student_number=listed.student)
    student = Student.objects.select_for_update(of=("self",)).filter(pk=listed.student).first()
    if done.exists() or student is None:
        return False
    why = _why_not_now(run, listed)
    if why:
        _held_back(run, listed, why)
        return False
    tables = student_remove(student=student, kind=listed.kind, run=run.pk, keeps_permanent=_keeps_permanent(listed))
    ErasedRows.objects.create(
        district=run.district,
        run=run,
        rule_number=listed.rule,
        kind=listed.kind,
        student_number=listed.student,
        at=timezone.now(),
        parents_told_on=listed.told or None,
        tables=tables,
    )
    return True


def _why_not_now(run: ErasureRun, listed: ListedStudent) -> tuple[str, ...]:
    """What has come up since the list was confirmed."""
    today = _today(run)
    if run.student_number is not None:
        return due_by_request(run.district, listed.student, today).why
    due = due_by_rules(run.district, rules_on(run.district, run.as_of), run.as_of, today)
    same = [one for one in due if (one.student, one.kind) == (listed.student, listed.kind)]
    return same[0].why if same else (SINCE,)


def _today(run: ErasureRun) -> dt.date:
    return today_of(run.confirmed_by or run.made_by)


def _held_back(run: ErasureRun, listed: ListedStudent, why: tuple[str, ...]) -> None:
    told = {"student": listed.student, "kind": listed.kind, "why": list(why)}
    if told not in run.kept:
        run.kept = [*run.kept, told]
        run.save(update_fields=["kept"])


def _keeps_permanent(listed: ListedStudent) -> bool:
    """By the rule; at the parents' request the permanent record stays."""
    if listed.kind != STUDENTS or listed.rule is None:
        return listed.kind == STUDENTS
    row = RetentionRule.objects.filter(pk=listed.rule).first()
    return row is None or row.keeps_permanent


def kind_erase(*, run: ErasureRun, listed: ListedKind) -> bool:
    """Erase a district's records of one kind up to the list's date, unless they are already; whether they were.

    Call it inside a transaction.
    """
    if ErasedRows.objects.filter(run=run, kind=listed.kind).exists():
        return False
    found = rows_of_kind(run.district, listed.kind, dt.date.fromisoformat(listed.until)).goes
    tables = counted(found)
    rows_remove(found)
    history_blank(found, run.pk)
    ErasedRows.objects.create(
        district=run.district,
        run=run,
        rule_number=listed.rule,
        kind=listed.kind,
        at=timezone.now(),
        tables=tables,
    )
    return True
