"""What every write about a teacher's month asks first."""

import datetime as dt

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, permission_require
from schedule.trips.selectors.month import MonthTrips, month_trips
from schedule.trips.selectors.vouchers import month_is_locked, month_vouchers
from travel.mileage.selectors import mileage_teachers

OWN, VIEW = "mileage.own", "mileage.view"
LOCKED = "The voucher of this month is submitted. Start a supplement to correct it."
SUBMITTED = "The voucher is submitted. Start a supplement to correct it."
ONLY_THE_TEACHER = "Only whoever drove says what was driven and submits the voucher."


def teacher_require(actor: Person, teacher: Person) -> None:
    """The driver in person; a coordinator is told so (403), everyone else finds nothing (404)."""
    permission_require(actor, VIEW)
    if actor.pk == teacher.pk and actor.has_perm(OWN):
        return
    if mileage_teachers(actor).filter(pk=teacher.pk).exists():
        raise ApplicationError(ONLY_THE_TEACHER, code="only_the_teacher", status=403)
    raise ApplicationError(NOT_THERE, code="not_found", status=404)


def serialize(teacher: Person) -> None:
    """One writer of a teacher's mileage at a time: no trip slips in beside a voucher that is being submitted."""
    Person.objects.select_for_update().get(pk=teacher.pk)


def changeable(teacher: Person, month: dt.date) -> MonthTrips:
    """The month's trips; raises `ApplicationError` (code ``voucher_locked``) once it is submitted."""
    if month_is_locked(month_vouchers(teacher, month)):
        raise ApplicationError(LOCKED, code="voucher_locked")
    return month_trips(teacher, month)
