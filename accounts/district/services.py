"""Writes about the district itself: its name, state and time zone."""

from collections.abc import Mapping
from typing import Any

from accounts.district.states import state_problem
from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_THERE, permission_require, record_save

PERMISSION = "district.settings"


def district_save(*, actor: Person, values: Mapping[str, Any]) -> District:
    """Change the actor's own district; a coordinator may.

    Raises `ValidationError` by field, or `ApplicationError` (403 for the role).
    """
    permission_require(actor, PERMISSION)
    if actor.district_id is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    # Read again: what is refused must not stay on the person's own copy.
    row = District.objects.get(pk=actor.district_id)
    wanted = dict(values)
    if "name" in wanted:
        wanted["name"] = wanted["name"].strip()
    problems = {}
    if "state" in wanted:
        wanted["state"] = wanted["state"].strip().upper()
        if problem := state_problem(wanted["state"]):
            problems["state"] = problem
    return record_save(actor=actor, row=row, values=wanted, action="district_save", problems=problems)
