"""Trips and vouchers of a table: what a teacher decided, and what a coordinator brings of another program.

Nothing that was submitted is changed here. Every service is keyword-only and raises `ApplicationError` (403 for the
role or for another's trip, 404 for another district's, 409 with a code) or `ValidationError` by field.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_in
from accounts.services import NOT_THERE, audit_write, permission_require, record_change
from accounts.validation import row_validate
from schedule.trips.selectors.month import MonthTrips
from schedule.trips.selectors.vouchers import APPROVE, month_vouchers, standing_of
from schedule.trips.services.shared import LOCKED, ONLY_THE_TEACHER, VIEW, serialize
from schedule.trips.services.trips import FUTURE, chart_for, with_typed
from travel.mileage.models import Trip, Voucher, VoucherAnswer, VoucherLine, VoucherStep

NOT_ONES_OWN = "Nobody brings vouchers of their own. Ask another coordinator, or submit the month under Trips."
NO_VOUCHER = "The voucher that this one comes after isn't there. Send its rows along with these."
OF_THE_PROGRAM = ("from_week", "direct_source")
"""What the program says of a teacher's trip, and a coordinator of one that was kept elsewhere."""

type Values = Mapping[str, Any]


def trip_bring(*, actor: Person, row: Trip, values: Values, month: MonthTrips, locked: bool) -> Trip:
    """Save a trip as a table says it; `row` has its teacher, day, both ends and key, or is saved already.

    A teacher's is as if it were said on the page. A coordinator's is kept as it comes, and is new: who drove
    submits it, and only they change what was said.
    """
    permission_require(actor, VIEW)
    _driver_require(actor, row)
    if locked:
        raise ApplicationError(LOCKED, code="voucher_locked")
    if row.date > today_in(row.teacher.district) and values.get("status", row.status) == Trip.Status.CONFIRMED:
        raise ValidationError({"date": FUTURE})
    with transaction.atomic():
        serialize(row.teacher)
        if actor.pk != row.teacher_id:
            return record_change(actor=actor, row=row, values=values, action="trip_bring", permission=VIEW)
        if not row.pk:
            planned = month.proposals.trips.get(row.key)
            row.from_week = planned is not None
            row.direct_miles, row.direct_source = (
                (planned.direct_miles, planned.direct_source)
                if planned is not None
                else chart_for(row.teacher, month, {**values, "date": row.date, **_ends(row)})
            )
        own = {name: value for name, value in values.items() if name not in OF_THE_PROGRAM}
        wanted = with_typed(row, own)
        return record_change(actor=actor, row=row, values=wanted, action="trip_bring", permission=VIEW)


def _ends(row: Trip) -> dict[str, Any]:
    return {"origin": row.origin, "destination": row.destination}


def _driver_require(actor: Person, row: Trip) -> None:
    """The driver, or a coordinator for a trip that isn't there."""
    if actor.pk == row.teacher_id:
        return
    if not actor.is_coordinator or row.teacher.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if row.pk:
        raise ApplicationError(ONLY_THE_TEACHER, code="only_the_teacher", status=403)


def voucher_bring(
    *,
    actor: Person,
    row: Voucher,
    lines: Sequence[VoucherLine],
    steps: Iterable[VoucherStep],
    answers: Iterable[VoucherAnswer],
) -> Voucher:
    """Keep a voucher that was submitted elsewhere, with its lines, what became of it and what was answered.

    For coordinators, of others' vouchers that aren't here. Raises `ValidationError` by field of the voucher.
    """
    permission_require(actor, APPROVE)
    if row.teacher_id == actor.pk:
        raise ApplicationError(NOT_ONES_OWN, code="own_voucher")
    if row.pk or row.teacher.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        serialize(row.teacher)
        row.supplement_of = _supplemented(row)
        row_validate(row)
        row.save()
        parts: tuple[VoucherLine | VoucherStep | VoucherAnswer, ...] = (*lines, *steps, *answers)
        for one in parts:
            one.voucher = row
            row_validate(one)
            one.save()
        total = str(sum(one.total for one in lines))
        audit_write(
            actor=actor,
            district=row.district,
            action="voucher_bring",
            row=row,
            changes={"lines": [None, len(lines)], "total": [None, total], "status": [None, row.status]},
        )
    return row


def _supplemented(row: Voucher) -> Voucher | None:
    """The month's voucher, of a supplement. Raises `ValidationError` where one before it is missing."""
    if not row.number:
        return None
    before = standing_of(month_vouchers(row.teacher, row.month))
    if row.number > len(before):
        raise ValidationError({"number": NO_VOUCHER})
    return before[0]


def month_claimed(teacher: Person, month: dt.date) -> bool:
    """Whether anything of a month was submitted here, and not returned."""
    return bool(standing_of(month_vouchers(teacher, month)))
