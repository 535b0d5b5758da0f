"""Writes of aides' hours.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, record_change, record_remove
from accounts.services.undo import last_change_undo
from caseload.care.models import Contact
from caseload.plans.models import enrollments_of
from schedule.aides.hours import HoursError, read_hours
from schedule.aides.models import AideHours
from schedule.aides.selectors import UNDO, last_hours_change
from schedule.calendar.services.rules import days_problem
from travel.places.models import Building

PERMISSION = "caseload.change"


def aide_hours_save(*, actor: Person, row: AideHours, values: Mapping[str, Any]) -> AideHours:
    """Save the hours of an aide from a day on; what holds before that day stays."""
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="aide_hours_save",
        permission=PERMISSION,
        rules=[aide_hours_fit_the_days],
    )


def aide_hours_fit_the_days(row: AideHours, values: Mapping[str, Any]) -> dict[str, str]:
    """Each day that is named exists in a building where the student or the class is."""
    del values
    try:
        days = {one.days for one in read_hours(row.times)}
    except HoursError:
        return {}  # the row itself says so
    for one in sorted(days):
        problems = [days_problem(one, building) for building in _buildings_of(row.contact)]
        if problems and all(problems):
            return {"times": problems[0]}
    return {}


def _buildings_of(contact: Contact) -> list[Building]:
    if contact.school_class is not None:
        return [contact.school_class.building]
    if contact.student is None:
        return []
    every = [contact.student.building, *(one.building for one in enrollments_of(contact.student))]
    return list({one.pk: one for one in every}.values())


def aide_hours_remove(*, actor: Person, row: AideHours) -> None:
    """Take hours away, as if they had never been given. Hours that end are followed by others instead."""
    record_remove(actor=actor, row=row, action="aide_hours_remove", permission=PERMISSION)


def aide_hours_take_back(*, actor: Person, contact: Contact, seen: int | None = None) -> None:
    """Undo what was done last to the hours of an aide. `seen`: the id of the change that the person saw.

    Raises as `accounts.services.undo.last_change_undo`, and 404 for an aide out of sight.
    """
    if not Contact.objects.changeable_by(actor).filter(pk=contact.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    last_change_undo(
        actor=actor, model=AideHours, last=last_hours_change(contact), seen=seen, action=UNDO, permission=PERMISSION
    )
