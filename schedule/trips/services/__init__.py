"""Writes about a teacher's trips and vouchers."""

from schedule.trips.services.shared import ONLY_THE_TEACHER, OWN, SUBMITTED
from schedule.trips.services.steps import (
    voucher_approve,
    voucher_pay,
    voucher_return,
    voucher_step_undo,
    voucher_take_back,
)
from schedule.trips.services.trips import trip_add, trip_confirm, trip_correct, trip_drop, trip_reopen
from schedule.trips.services.vouchers import supplement_drop, supplement_start, voucher_submit

__all__ = [
    "ONLY_THE_TEACHER",
    "OWN",
    "SUBMITTED",
    "supplement_drop",
    "supplement_start",
    "trip_add",
    "trip_confirm",
    "trip_correct",
    "trip_drop",
    "trip_reopen",
    "voucher_approve",
    "voucher_pay",
    "voucher_return",
    "voucher_step_undo",
    "voucher_submit",
    "voucher_take_back",
]
