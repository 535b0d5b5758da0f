"""Writes about roles: a coordinator gives and changes them; everybody chooses in which of the own to work."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.guards import ends_foreseen
from accounts.models import ApiToken, District, Person, PersonRole
from accounts.people.hooks import office_buildings
from accounts.roles.selectors import ROLE_UNDO, coordinator_stays, last_role_change
from accounts.selectors import today_of
from accounts.services import audit_write, district_of, permission_require, record_change, record_remove
from accounts.services.undo import last_change_undo
from accounts.sign_in.selectors import rules_of

PERMISSION = "people.change"
ROLE_FIXED = "A role stays what it is. Give it a last day, and add the other one."
LAST_COORDINATOR = "Nobody would answer for the district anymore. Give another person this role first."
HAS_BEGUN = "What was done in this role stays, so it can't be removed. Give it a last day instead."
ONLY_ONE = "This is the person's only role. Add another first, or deactivate the sign-in."
NOT_HELD = "You don't have this role today. Choose one that is listed."
OPENS = {
    Person.Role.TEACHER: "plans and logs a caseload of their own",
    Person.Role.COORDINATOR: "sees every student of the district, and changes people and settings",
    Person.Role.OFFICE: "sees the published weeks of the buildings that are checked, without students",
    Person.Role.SUBSTITUTE: "sees a teacher's caseload while standing in",
    Person.Role.REVIEWER: "looks at what a review names, and changes nothing",
}


def role_save(*, actor: Person, row: PersonRole, values: Mapping[str, Any]) -> PersonRole:
    """Save a role of a person and its days; of a school office with the ``buildings`` among the values.

    Raises `ValidationError` by field, `ApplicationError` 403 for anybody but a coordinator.
    """
    own = {name: value for name, value in values.items() if name != "buildings"}
    fixed = row.pk is not None and own.get("role", row.role) != row.role
    with transaction.atomic():
        problems = {"role": ROLE_FIXED} if fixed else {}
        record_change(
            actor=actor, row=row, values=own, action="role_save", permission=PERMISSION, problems=problems
        )
        _coordinator_require(row, "last_day")
        person = Person.objects.select_related("district").get(pk=row.person_id)
        if row.role == Person.Role.OFFICE:
            offices = office_buildings()
            wanted = {one.pk for one in values["buildings"]} if "buildings" in values else offices.chosen(person)
            offices.save(actor=actor, person=person, wanted=wanted)
    return row


def role_remove(*, actor: Person, row: PersonRole) -> None:
    """Remove a role that hasn't begun before today; any other is ended by a last day.

    Raises `ApplicationError`: 403 for anybody but a coordinator, 409 for a role that can't go.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        _removable_require(actor, row)
        record_remove(actor=actor, row=row, action="role_remove", permission=PERMISSION)
        _coordinator_require(row, None)


def role_undo(*, actor: Person, row: PersonRole, seen: int | None = None) -> None:
    """Give a role the days again that it had before its last change.

    `seen`: the id of the change that the person saw. Raises as `accounts.services.undo.last_change_undo`.
    """
    with transaction.atomic():
        last_change_undo(
            actor=actor,
            model=PersonRole,
            last=last_role_change(row),
            seen=seen,
            action=ROLE_UNDO,
            permission=PERMISSION,
        )
        _coordinator_require(row, None)


def _removable_require(actor: Person, row: PersonRole) -> None:
    if row.first_day is None or row.first_day < today_of(actor):
        raise ApplicationError(HAS_BEGUN, code="role_has_begun")
    if not PersonRole.objects.filter(person=row.person_id).exclude(pk=row.pk).exists():
        raise ApplicationError(ONLY_ONE, code="only_role")


def _coordinator_require(row: PersonRole, field: str | None) -> None:
    """Somebody answers for the district, without an end. Raises at the field, or (409) without one."""
    district = district_of(row)
    if row.role != Person.Role.COORDINATOR or coordinator_stays(district):
        return
    if field is None:
        raise ApplicationError(LAST_COORDINATOR, code="last_coordinator")
    raise ValidationError({field: LAST_COORDINATOR}, code="last_coordinator")


# ---- shown before ----------------------------------------------------------------------------------------


def role_effects(*, actor: Person, row: PersonRole, values: Mapping[str, Any]) -> list[str]:
    """What saving a role would open and end, in sentences; saves nothing. Raises what `role_save` raises.

    `row` isn't used afterwards: it carries the values.
    """
    permission_require(actor, PERMISSION)
    person: Person = row.person
    known = {one.pk: one for one in person.role_rows}
    was = known.get(row.pk)
    ends = ends_foreseen(actor, person, lambda: role_save(actor=actor, row=row, values=values))
    after = [*(one for pk, one in known.items() if pk != row.pk), row]
    return [
        *_opened(person, was, row),
        *_closed(person, was, row),
        *_no_role(person, after),
        *_factor(actor, person, was, row),
        *ends,
    ]


def _opened(person: Person, was: PersonRole | None, row: PersonRole) -> list[str]:
    label, days = row.get_role_display().lower(), row.days or "without an end"
    if was is None:
        beside = ", ".join(dict.fromkeys(one.get_role_display().lower() for one in person.role_rows))
        return [
            f"{person} may work as {label}, {days}, and then {OPENS[Person.Role(row.role)]}.",
            f"Nothing changes of what {person} does as {beside}: one role at a time, by a switch in the menu.",
        ]
    if was.days == row.days:
        return []
    return [f"{person} may work as {label}, {days}. Before: {was.days or 'without an end'}."]


def _closed(person: Person, was: PersonRole | None, row: PersonRole) -> list[str]:
    if row.last_day is None or (was is not None and was.last_day == row.last_day):
        return []
    count = ApiToken.objects.filter(person=person, role=row.role, last_day__gt=row.last_day).count()
    tokens = f", and {count} of its programs can't ask anymore" if count else ""
    return [f"After {date_words(row.last_day)} its pages and its calendar feeds are closed{tokens}."]


def _no_role(person: Person, rows: list[PersonRole]) -> list[str]:
    ends = [one.last_day for one in rows]
    known = [day for day in ends if day is not None]
    if len(known) < len(ends):
        return []
    first = max(known) + dt.timedelta(days=1)
    return [f"From {date_words(first)} on {person} has no role and can't sign in."]


def _factor(actor: Person, person: Person, was: PersonRole | None, row: PersonRole) -> list[str]:
    today = today_of(actor)
    if was is not None or person.second_factors.exists() or not rules_of(person).needs_factor(row.role, today):
        return []
    return [f"This role needs a second step at sign-in: {person} is asked to set one up before anything else."]


# ---- one's own -------------------------------------------------------------------------------------------


def role_choose(*, actor: Person, role: str) -> None:
    """Work in another of one's roles; the caller keeps it in the session. The next sign-in begins in it.

    Raises `ApplicationError` (409) for one that isn't held today.
    """
    if role not in actor.roles_on(today_of(actor)):
        raise ApplicationError(NOT_HELD, code="role_not_held")
    with transaction.atomic():
        Person.objects.filter(pk=actor.pk).update(role=role)
        if isinstance(actor.district, District):
            told = {"role": [actor.role, role]}
            audit_write(actor=actor, district=actor.district, action="role_choose", row=actor, changes=told)
    actor.act_as(role)
