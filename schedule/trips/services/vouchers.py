"""Writes about vouchers: the teacher answers what is asked and submits; nothing submitted changes.

Every service is keyword-only and raises `ApplicationError` (403 for the role, 404 for another teacher, 409 with a
code that tells what is in the way) or `ValidationError` by field.
"""

import datetime as dt
from collections.abc import Iterable, Mapping

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write, record_change, record_remove
from accounts.validation import row_validate
from schedule.trips.selectors.month import (
    MonthTrips,
    entries_to_submit,
    month_corrected,
    month_questions,
    month_trips,
)
from schedule.trips.selectors.vouchers import (
    month_end,
    month_start,
    month_vouchers,
    next_voucher,
    open_of,
    standing_of,
)
from schedule.trips.services.shared import OWN, changeable, serialize, teacher_require
from travel.mileage.claims import ZERO
from travel.mileage.entries import Entry
from travel.mileage.models import Voucher, VoucherAnswer, VoucherLine
from travel.mileage.questions import VoucherQuestion
from travel.mileage.rates import MileageError

USED = "Trips were corrected since the voucher was submitted. Put them back as they were, or submit the supplement."

MOST_NAMED = 3

type Answers = Mapping[str, str]


def voucher_submit(
    *,
    actor: Person,
    teacher: Person,
    month: dt.date,
    today: dt.date,
    now: dt.datetime,
    answers: Answers | None = None,
) -> Voucher:
    """Sign the month's voucher, or the supplement that is open: its lines are copied and never change again.

    `answers`: a few words to each question, by its key; they are kept with the voucher.

    Refused while trips are undecided (``trips_open``), while one can't be worked out (``trip_incomplete``), while
    a question isn't answered (``questions_open``), where nothing changed since the last one (``nothing_to_claim``),
    and where it was submitted (``voucher_locked``).
    """
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        found = changeable(teacher, month_start(month))
        entries = _entries_ready(teacher, month, found, today)
        vouchers = month_vouchers(teacher, month)
        answered = _answered(month_questions(teacher, month, found, vouchers), answers or {})
        row = open_of(vouchers) or next_voucher(teacher, month, vouchers)
        row.status, row.submitted_by, row.submitted_at = Voucher.Status.SUBMITTED, actor, now
        row.rules = found.claims.book.in_words(month_start(month), month_end(month))
        row.full_clean()
        row.save()
        for position, entry in enumerate(entries, start=1):
            _line(row, position, entry).save()
        for position, (question, answer) in enumerate(answered, start=1):
            _answer(row, position, question, answer).save()
        total = str(sum((one.total for one in entries), ZERO))
        audit_write(
            actor=actor,
            district=row.district,
            action="voucher_submit",
            row=row,
            changes={"lines": [None, len(entries)], "total": [None, total], "answers": [None, len(answered)]},
        )
    return row


def _answered(questions: Iterable[VoucherQuestion], answers: Answers) -> list[tuple[VoucherQuestion, str]]:
    """Each question with its answer; raises `ApplicationError` (code ``questions_open``) naming those without."""
    found = [(question, answers.get(question.key, "").strip()) for question in questions]
    waiting = [question.words for question, answer in found if not answer]
    if waiting:
        more = f" And {len(waiting) - MOST_NAMED} more." if len(waiting) > MOST_NAMED else ""
        told = f"Answer this in a few words before you submit: {' '.join(waiting[:MOST_NAMED])}{more}"
        raise ApplicationError(told, code="questions_open")
    return found


def _answer(voucher: Voucher, position: int, question: VoucherQuestion, answer: str) -> VoucherAnswer:
    row = VoucherAnswer(
        voucher=voucher, position=position, key=question.key, question=question.words, answer=answer
    )
    row_validate(row)
    return row


def _entries_ready(teacher: Person, month: dt.date, found: MonthTrips, today: dt.date) -> tuple[Entry, ...]:
    waiting = found.undecided
    if waiting:
        ahead = " Some are still ahead." if any(trip.date > today for trip in waiting) else ""
        what = "1 trip is" if len(waiting) == 1 else f"{len(waiting)} trips are"
        raise ApplicationError(
            f"{what} not confirmed. Confirm what was driven, and say what wasn't, before you submit.{ahead}",
            code="trips_open",
        )
    try:
        entries = entries_to_submit(teacher, month, found)
    except MileageError as error:
        raise ApplicationError(str(error), code="trip_incomplete") from error
    if not entries:
        raise ApplicationError("There is nothing to claim that isn't claimed already.", code="nothing_to_claim")
    return entries


def _line(voucher: Voucher, position: int, entry: Entry) -> VoucherLine:
    line = VoucherLine(
        voucher=voucher,
        position=position,
        key=entry.key,
        takes_back=entry.takes_back,
        date=entry.day,
        origin=entry.origin,
        destination=entry.destination,
        direct_miles=entry.direct,
        driven_miles=entry.driven,
        miles=entry.miles,
        rate=entry.rate,
        rate_source=entry.rate_source,
        amount=entry.amount,
        parking=entry.parking,
        tolls=entry.tolls,
        rule=entry.rule,
        note=entry.note,
        purpose=entry.purpose,
        account_code=entry.account_code,
        source=entry.source,
        direct_source=entry.direct_source,
        odometer_before=entry.odometer_before,
        odometer_after=entry.odometer_after,
        off_chart_percent=entry.off_chart_percent,
        off_chart=entry.off_chart,
        total_rounding=entry.total_rounding or "",
    )
    line.full_clean()
    return line


def supplement_start(*, actor: Person, teacher: Person, month: dt.date, reprice: bool = False) -> Voucher:
    """Make the trips of a submitted month correctable again; what was submitted stays.

    It claims what changed since, and nothing else; with ``reprice`` also what the rules and rates of the days
    driven say now of the trips that didn't.

    Raises `ApplicationError` (code ``not_submitted``, ``supplement_open``).
    """
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        vouchers = month_vouchers(teacher, month)
        if not standing_of(vouchers):
            raise ApplicationError("This month's voucher isn't submitted: correct its trips.", code="not_submitted")
        if open_of(vouchers) is not None:
            raise ApplicationError("A supplement is already open: correct the trips.", code="supplement_open")
        row = next_voucher(teacher, month, vouchers)
        return record_change(
            actor=actor, row=row, values={"reprices": reprice}, action="supplement_start", permission=OWN
        )


def supplement_drop(*, actor: Person, teacher: Person, month: dt.date) -> None:
    """Close the supplement that is open without submitting it: the month is as it was submitted.

    Raises `ApplicationError` (code ``no_supplement``, or ``supplement_used`` while trips were corrected for it).
    """
    teacher_require(actor, teacher)
    with transaction.atomic():
        serialize(teacher)
        vouchers = month_vouchers(teacher, month)
        row = open_of(vouchers)
        if row is None:
            raise ApplicationError("No supplement is open in this month.", code="no_supplement")
        if month_corrected(vouchers, month_trips(teacher, month)):
            raise ApplicationError(USED, code="supplement_used")
        record_remove(actor=actor, row=row, action="supplement_drop", permission=OWN)
