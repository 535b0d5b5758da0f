"""Months of the log: a teacher signs the own, a coordinator closes and reopens it.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for what is out of sight, 409
with a code that says what is in the way. Other services ask `caseload.months.services.closed_month_require`.
"""

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.selectors import today_in
from accounts.services import NOT_THERE, NOT_YOUR_ROLE, Changes, audit_write, permission_require, record_change
from caseload.months.models import LogMonth, LogMonthAct, LogMonthRules, month_of
from caseload.retention.selectors import logs_erased
from schedule.closing.content import Content, digest_of, is_same_log, without
from schedule.closing.selectors import content_of, month_end, month_rules, month_teacher

SIGN, CLOSE, RULES = "month.sign", "month.close", "ledger.change"
LONGEST_REASON = 300
SIGN_OWN = "Only the teacher signs a month of the log."
CHANGED = "The month was changed since you looked at it, so nothing was saved. Look at it again."
SIGN_AGAIN = "Sessions were changed since the month was signed. Ask the teacher to look at it and sign it again."
NOT_SIGNED = "The month isn't signed. Ask the teacher to sign it, or say why it is closed without."


def month_sign(
    *, actor: Person, teacher: Person, month: dt.date, name: str, digest: str, now: dt.datetime | None = None
) -> LogMonthAct:
    """Sign a month of one's own log: the name as typed, the moment, and what is signed are kept.

    `digest` is of the month that the person saw (code ``changed_meanwhile`` if it isn't what stands). A month that
    is not over (``month_not_over``) or is closed (``month_closed``) can't be signed. One may sign again after a
    change.
    """
    permission_require(actor, SIGN)
    if teacher.pk != actor.pk:
        raise ApplicationError(SIGN_OWN, code="not_for_your_role", status=403)
    _over_require(actor, month, now)
    if " ".join(name.split()).casefold() != str(actor).casefold():
        raise ValidationError({"name": f"Type your name as it stands here: {actor}."})
    with transaction.atomic():
        row = _held(actor, teacher, month)
        if row.is_closed:
            raise ApplicationError(f"{row} is closed.", code="month_closed")
        content = content_of(actor, row.month)
        if digest_of(content) != digest:
            raise ApplicationError(CHANGED, code="changed_meanwhile")
        told = {"name": " ".join(name.split()), "content": content, "digest": digest}
        return _done(actor, row, LogMonthAct.Act.SIGNED, LogMonth.Status.SIGNED, now, **told)


def month_close(
    *,
    actor: Person,
    teacher: Person,
    month: dt.date,
    expected_revision: int,
    reason: str = "",
    now: dt.datetime | None = None,
) -> LogMonthAct:
    """Close a month as it was signed, or, with a reason, without a signature (a teacher who has left).

    Refused with ``changed_since_signed`` where sessions are otherwise than what was signed, ``not_signed`` without
    signature and reason, ``changed_meanwhile`` where `expected_revision` isn't the month's.
    """
    permission_require(actor, CLOSE)
    _over_require(actor, month, now)
    with transaction.atomic():
        row = _held(actor, teacher, month, expected_revision)
        if row.is_closed:
            raise ApplicationError(f"{row} is closed already.", code="month_closed")
        content = content_of(month_teacher(actor, teacher.pk), row.month)
        _signature_require(row, content, reason)
        told = {"reason": _reason(reason), "content": content, "digest": digest_of(content)}
        return _done(actor, row, LogMonthAct.Act.CLOSED, LogMonth.Status.CLOSED, now, **told)


def month_reopen(
    *,
    actor: Person,
    teacher: Person,
    month: dt.date,
    expected_revision: int,
    reason: str,
    now: dt.datetime | None = None,
) -> LogMonthAct:
    """Open a signed or closed month again; why is kept, and so is what was signed and closed."""
    permission_require(actor, CLOSE)
    if not reason.strip():
        raise ValidationError({"reason": "Say why the month is reopened."})
    with transaction.atomic():
        row = _held(actor, teacher, month, expected_revision)
        if row.status == LogMonth.Status.OPEN:
            raise ApplicationError(f"{row} is open already.", code="month_open")
        told = {"reason": _reason(reason)}
        return _done(actor, row, LogMonthAct.Act.REOPENED, LogMonth.Status.OPEN, now, **told)


def month_rules_save(*, actor: Person, afterwards: str) -> LogMonthRules:
    """Save what the district does about changes in a closed month."""
    permission_require(actor, RULES)
    return record_change(
        actor=actor,
        row=month_rules(_district(actor)),
        values={"afterwards": afterwards},
        action="month_rules_save",
        permission=RULES,
    )


def _district(actor: Person) -> District:
    if actor.district is None:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    return actor.district


def _over_require(actor: Person, month: dt.date, now: dt.datetime | None) -> None:
    last = month_end(month)
    today = today_in(_district(actor), now)
    if today <= last:
        after = date_words(last + dt.timedelta(days=1))
        text = f"{month:%B %Y} isn't over. It can be signed and closed from {after} on."
        raise ApplicationError(text, code="month_not_over")


def _held(actor: Person, teacher: Person, month: dt.date, expected: int | None = None) -> LogMonth:
    """The month's row, made where there is none, and nobody else's until this is done."""
    if teacher.district_id is None or teacher.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    month_teacher(actor, teacher.pk)
    LogMonth.objects.get_or_create(
        teacher=teacher, month=month_of(month), defaults={"district_id": teacher.district_id}
    )
    row = LogMonth.objects.select_for_update(of=("self",)).get(teacher=teacher, month=month_of(month))
    if expected is not None and row.revision != expected:
        raise ApplicationError(CHANGED, code="changed_meanwhile")
    return row


def _signature_require(row: LogMonth, content: Content, reason: str) -> None:
    last = row.acts.last()
    if row.status == LogMonth.Status.SIGNED and last is not None:
        erased = logs_erased(row.teacher)
        if not is_same_log(without(last.content, erased), without(content, erased)):
            raise ApplicationError(SIGN_AGAIN, code="changed_since_signed")
    elif not reason.strip():
        raise ApplicationError(NOT_SIGNED, code="not_signed")


def _reason(text: str) -> str:
    if len(text.strip()) > LONGEST_REASON:
        raise ValidationError({"reason": f"Say why in at most {LONGEST_REASON} characters."})
    return text.strip()


def _done(
    actor: Person,
    row: LogMonth,
    act: LogMonthAct.Act,
    status: LogMonth.Status,
    now: dt.datetime | None,
    **told: Any,
) -> LogMonthAct:
    """Store the act, set the month's status, and note it; the month is held."""
    kept = LogMonthAct(month=row, act=act, by=actor, at=now or timezone.now(), **told)
    kept.full_clean()
    kept.save()
    before, row.status, row.revision = row.status, status, row.revision + 1
    row.save(update_fields=["status", "revision"])
    changes: Changes = {"status": [before, status.value], "month": [None, row.month], "digest": [None, kept.digest]}
    audit_write(actor=actor, district=row.district, action=f"month_{act.value}", row=row, changes=changes)
    return kept
