"""Writes about people: sign-ins, passwords that are given to somebody, and who covers whom.

A coordinator does these for the own district. Each raises `ValidationError` by field, or `ApplicationError` (403
for the role, 404 for what is out of sight). A password that was given is shown once and kept only as a hash;
whoever gets it must choose another before anything else (accounts.middleware).
"""

import secrets
from collections.abc import Mapping
from typing import Any

from axes.utils import reset as lockout_lift
from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person, Substitution
from accounts.selectors import Deletion, deletion_foreseen
from accounts.services import audit_write, district_of, permission_require, record_change, record_remove
from accounts.validation import row_validate

PERMISSION = "people.change"
# No vowels, so that no word is spelt, and nothing that is taken for another when it is read aloud or copied.
_LETTERS = "bcdfghjkmnpqrstvwxz23456789"
_GROUPS, _GROUP = 4, 4
NAME_TAKEN = "This sign-in name is taken. Choose another, such as the first letter and the last name."
ROLE_STAYS = (
    "The role can't be changed any more: other records rest on it. Add another sign-in with the new role and "
    "deactivate this one."
)
NOT_YOURSELF = "You can't deactivate your own sign-in. Ask another coordinator."


def password_make() -> str:
    """A random password of 16 letters and digits (76 bits) in groups that can be read aloud."""
    groups = ("".join(secrets.choice(_LETTERS) for _ in range(_GROUP)) for _ in range(_GROUPS))
    return "-".join(groups)


def person_save(*, actor: Person, row: Person, values: Mapping[str, Any]) -> Person:
    """Save a person of the actor's district; a new one can sign in once `person_password_give` was called."""
    permission_require(actor, PERMISSION)
    if not row.pk:
        row.set_unusable_password()
    problems = {}
    if row.pk and values.get("role", row.role) != row.role and deletion_foreseen(row) != Deletion():
        problems["role"] = ROLE_STAYS
        values = {**values, "role": row.role}
    username = values.get("username")
    if username and Person.objects.filter(username__iexact=username).exclude(pk=row.pk).exists():
        problems["username"] = NAME_TAKEN
    return record_change(
        actor=actor, row=row, values=values, action="person_save", permission=PERMISSION, problems=problems
    )


def person_password_give(*, actor: Person, row: Person) -> str:
    """Set a random password, end the person's sessions and lift a lockout; returns the password, once."""
    _person_require(actor, row)
    with transaction.atomic():
        password = _password_set(row)
        audit_write(actor=actor, district=district_of(row), action="person_password_give", row=row)
    lockout_lift(username=row.username)
    return password


def _password_set(row: Person) -> str:
    password = password_make()
    row.set_password(password)
    row.password_given = True
    row.save(update_fields=["password", "password_given"])
    return password


def own_password_chosen(*, actor: Person) -> None:
    """The person has chosen a password that nobody else knows."""
    with transaction.atomic():
        Person.objects.filter(pk=actor.pk).update(password_given=False)
        if actor.district is not None:
            audit_write(actor=actor, district=actor.district, action="own_password_chosen", row=actor)
    actor.password_given = False


def person_active_set(*, actor: Person, row: Person, active: bool) -> Person:
    """Let a person sign in, or no longer; everything that the person made stays. Raises (409) for the actor."""
    _person_require(actor, row)
    if row.pk == actor.pk and not active:
        raise ApplicationError(NOT_YOURSELF, code="not_yourself")
    return record_change(
        actor=actor, row=row, values={"is_active": active}, action="person_active_set", permission=PERMISSION
    )


def _person_require(actor: Person, row: Person) -> None:
    permission_require(actor, PERMISSION)
    if row.district_id is None or row.district_id != actor.district_id:
        raise ApplicationError("There is nothing here that you can see.", code="not_found", status=404)


def substitution_save(*, actor: Person, row: Substitution, values: Mapping[str, Any]) -> Substitution:
    """Save who covers whom from which date to which; the substitute sees the caseload in that time."""
    return record_change(actor=actor, row=row, values=values, action="substitution_save", permission=PERMISSION)


def substitution_delete(*, actor: Person, row: Substitution) -> None:
    """End a cover at once."""
    record_remove(actor=actor, row=row, action="substitution_delete", permission=PERMISSION)


def district_start(*, name: str, time_zone: str, state: str, username: str) -> tuple[District, Person, str]:
    """A new district with its first coordinator; returns both and the coordinator's one-time password.

    Only for the command line: nobody at a page stands above districts. Raises `ValidationError` by field.
    """
    with transaction.atomic():
        district = District(name=name.strip(), time_zone=time_zone, state=state.strip().upper())
        row_validate(district)
        district.save()
        if Person.objects.filter(username__iexact=username).exists():
            raise ValidationError({"username": NAME_TAKEN})
        person = Person(username=username, district=district, role=Person.Role.COORDINATOR)
        person.set_unusable_password()
        row_validate(person)
        person.save()
        password = _password_set(person)
        audit_write(actor=None, district=district, action="district_start", row=district)
    return district, person, password
