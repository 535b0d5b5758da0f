"""What becomes of a submitted voucher: approved, returned with a reason, paid; each step can be taken back.

Steps are added and never changed, so that a voucher says who did what and when. Every service is keyword-only and
raises `ApplicationError` (403 for the role, 404 for a voucher out of sight, 409 with a code).
"""

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write, permission_require
from accounts.validation import row_validate
from schedule.trips.selectors.month import month_corrected, month_trips
from schedule.trips.selectors.vouchers import (
    APPROVE,
    actions_of,
    month_vouchers,
    open_of,
    steps_in_force,
    steps_of,
)
from schedule.trips.services.shared import ONLY_THE_TEACHER, VIEW, serialize
from travel.mileage.models import Voucher, VoucherStep
from travel.mileage.selectors import voucher_get

Status = Voucher.Status

LATER = (
    "A later supplement of this month counts on this voucher. Return that one first, or wait until it is submitted."
)
BEGUN = "The teacher has begun to correct this month, so it can't go back to what was submitted. Ask the teacher."


def voucher_approve(*, actor: Person, voucher: Voucher, now: dt.datetime) -> VoucherStep:
    """A coordinator has checked a submitted voucher, and it may be paid."""
    return _step(actor, voucher, "approve", Status.APPROVED, now, "")


def voucher_return(*, actor: Person, voucher: Voucher, words: str, now: dt.datetime) -> VoucherStep:
    """Give a voucher back with the reason; its trips can be corrected, and it is submitted again.

    Raises `ValidationError` without a reason, `ApplicationError` (code ``later_voucher``) while a supplement of the
    month counts on it.
    """
    return _step(actor, voucher, "return", Status.RETURNED, now, words)


def voucher_take_back(*, actor: Person, voucher: Voucher, words: str, now: dt.datetime) -> VoucherStep:
    """The teacher takes a voucher back before anybody has approved it; raises as `voucher_return` does."""
    return _step(actor, voucher, "take_back", Status.RETURNED, now, words)


def voucher_pay(*, actor: Person, voucher: Voucher, words: str = "", now: dt.datetime) -> VoucherStep:
    """The finance office has paid an approved voucher; `words`: what it knows the payment by."""
    return _step(actor, voucher, "pay", Status.PAID, now, words)


def voucher_step_undo(*, actor: Person, voucher: Voucher, now: dt.datetime) -> VoucherStep:
    """Take the last step back: whoever made it, or a coordinator.

    Raises `ApplicationError` (code ``not_now``; ``month_changed`` where a returned month was corrected already).
    """
    with transaction.atomic():
        row = _again(actor, voucher, "undo")
        in_force = steps_in_force(steps_of(row))
        if in_force[-1].status == Status.RETURNED:
            _unchanged_require(row)
        before = in_force[-2].status if len(in_force) > 1 else Status.SUBMITTED
        return _write(actor, row, VoucherStep(status=in_force[-1].status, undoes=True, at=now), before)


def _step(
    actor: Person, voucher: Voucher, action: str, status: Voucher.Status, now: dt.datetime, words: str
) -> VoucherStep:
    with transaction.atomic():
        row = _again(actor, voucher, action)
        if status == Status.RETURNED:
            _reason_require(words)
            _last_require(row)
        return _write(actor, row, VoucherStep(status=status, at=now, words=words.strip()), status)


def _again(actor: Person, voucher: Voucher, action: str) -> Voucher:
    """The voucher as it stands now, held until the end; raises unless the actor may do this with it."""
    permission_require(actor, VIEW if action in {"take_back", "undo"} else APPROVE)
    row = voucher_get(actor, voucher.pk)
    if action == "take_back" and row.teacher_id != actor.pk:
        raise ApplicationError(ONLY_THE_TEACHER, code="only_the_teacher", status=403)
    serialize(row.teacher)
    row = voucher_get(actor, voucher.pk)
    steps = steps_of(row)
    if action not in actions_of(actor, row, steps):
        raise ApplicationError(_how_it_stands(row, steps_in_force(steps)), code="not_now")
    return row


def _how_it_stands(row: Voucher, in_force: list[VoucherStep]) -> str:
    label = Status(row.status).label.lower()
    if not in_force:
        return f"This voucher is {label}, and this can't be done with it now."
    last = in_force[-1]
    return f"This voucher is {label} since {date_words(last.at.date())}, by {last.by}. Look at it again."


def _reason_require(words: str) -> None:
    if not words.strip():
        raise ValidationError({"words": "Say why, so that it can be put right."})


def _last_require(row: Voucher) -> None:
    """Nothing of the month may count on a voucher that goes back."""
    vouchers = month_vouchers(row.teacher, row.month)
    if open_of(vouchers) is not None or any(one.is_standing and one.number > row.number for one in vouchers):
        raise ApplicationError(LATER, code="later_voucher")


def _unchanged_require(row: Voucher) -> None:
    """A returned voucher stands again only where nothing was done about it."""
    vouchers = month_vouchers(row.teacher, row.month)
    newest = max(vouchers, key=lambda one: (one.number, one.edition))
    would_stand = [*(one for one in vouchers if one.is_standing), row]
    row.status = Status.SUBMITTED
    if newest.pk != row.pk or month_corrected(would_stand, month_trips(row.teacher, row.month)):
        raise ApplicationError(BEGUN, code="month_changed")


def _write(actor: Person, row: Voucher, step: VoucherStep, status: str) -> VoucherStep:
    step.voucher, step.by = row, actor
    row_validate(step)
    step.save()
    before = Voucher.objects.filter(pk=row.pk).values_list("status", flat=True).get()
    row.status = status
    row.full_clean()
    row.save(update_fields=["status"])
    changes = {"status": [before, status]}
    audit_write(actor=actor, district=row.district, action="voucher_step", row=row, changes=changes)
    return step
