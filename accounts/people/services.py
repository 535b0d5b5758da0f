"""Writes about people: sign-ins, passwords, and who covers whom.

A coordinator does most of these for the own district. Each raises `ValidationError` by field, or
`ApplicationError` (403 for the role, 404 for what is out of sight). A password that was given is shown once and
kept only as a hash. It works for one sign-in within `GIVEN_DAYS` (accounts.sign_in.backends), and whoever gets it
must choose another before anything else (accounts.sign_in.middleware).
"""

import datetime as dt
import secrets
from collections.abc import Collection, Mapping
from typing import Any
from uuid import UUID

from axes.utils import reset as lockout_lift
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import CoveredSession, District, Invitation, Person, PersonRole, Substitution
from accounts.people.hooks import link_send_later, office_buildings
from accounts.people.mailing import mail_is_set_up
from accounts.people.selectors import people_of_address
from accounts.people.signals import CoveredSpan, substitution_changed
from accounts.selectors import deletion_foreseen, today_in
from accounts.services import (
    NOT_THERE,
    audit_write,
    district_of,
    permission_require,
    record_change,
    record_remove,
)
from accounts.validation import row_validate

PERMISSION, ARRANGE = "people.change", "cover.arrange"
# No vowels, so that no word is spelled, and nothing that is taken for another when it is read aloud or copied.
_LETTERS = "bcdfghjkmnpqrstvwxz23456789"
_GROUPS, _GROUP = 4, 4
GIVEN_DAYS = 7
NAME_TAKEN = "This sign-in name is taken. Choose another, such as the first letter and the last name."
ROLE_STAYS = (
    "The role can't be changed anymore because other records depend on it. Add the new role under Roles, and "
    "give this one a last day there."
)
OLD_WRONG = "This isn't your current password. Type it as it was given to you or as you chose it."
MUST_DIFFER = "The new password is the same as your current one. Choose another."
LINK_USED = "Another password was set in the meantime. Have a new link sent."
NO_SUCH_SIGN_IN = "Nobody who can sign in has this name. Check the spelling."
NO_ADDRESS = "There is no mail address here to send a link to. Add one, or give a new password."
NO_MAIL = "This site sends no mail. Give a new password instead, or have mail set up (docs/running.md)."
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
    if row.pk and values.get("role", row.role) != row.role and role_rests(row):
        problems["role"] = ROLE_STAYS
        values = {**values, "role": row.role}
    username = values.get("username")
    if username and Person.objects.filter(username__iexact=username).exclude(pk=row.pk).exists():
        problems["username"] = NAME_TAKEN
    with transaction.atomic():
        if row.pk and "email" in values:
            _link_of_other_address_end(row, values["email"])
        return record_change(
            actor=actor, row=row, values=values, action="person_save", permission=PERMISSION, problems=problems
        )


def _link_of_other_address_end(row: Person, address: str) -> None:
    """What lies in the mail box of an address that isn't the person's opens nothing."""
    if not Person.objects.filter(pk=row.pk, email=address).exists():
        Invitation.objects.filter(person=row, stopped_at=None, on_paper=False).update(stopped_at=timezone.now())


def role_rests(row: Person) -> bool:
    """Whether there are more roles than one, or records that belong to what the person did in it."""
    foreseen = deletion_foreseen(row)
    own = {str(model._meta.verbose_name_plural) for model in (PersonRole, Invitation)}
    return len(row.role_rows) > 1 or bool(foreseen.kept_by) or any(name not in own for name, _ in foreseen.goes)


def person_with_offices_save(*, actor: Person, row: Person, values: Mapping[str, Any]) -> Person:
    """Save a person (`person_save`) and, if ``buildings`` are among the values, the buildings of a school office.

    Raises `ValidationError` by field; what the buildings must keep to, the floor that knows them says.
    """
    own = {name: value for name, value in values.items() if name != "buildings"}
    with transaction.atomic():
        person = person_save(actor=actor, row=row, values=own)
        offices = office_buildings()
        wanted = {one.pk for one in values["buildings"]} if "buildings" in values else offices.chosen(person)
        offices.save(actor=actor, person=person, wanted=wanted)
    return person


def person_password_give(*, actor: Person, row: Person) -> str:
    """Set a random password, end the person's sessions and lift a lockout; returns the password, once."""
    _person_require(actor, row)
    return _password_give(actor, row)


def password_give_at_server(*, username: str) -> tuple[Person, str]:
    """The same for whoever runs the server: the way back in for a district's only coordinator.

    Only for the command line. Raises `ValidationError` by field if there is no such person who may sign in.
    """
    row = Person.objects.filter(username__iexact=username, is_active=True).first()
    if row is None:
        raise ValidationError({"username": NO_SUCH_SIGN_IN})
    return row, _password_give(None, row)


def _password_give(actor: Person | None, row: Person) -> str:
    with transaction.atomic():
        password = _password_set(row)
        if row.district is not None:
            audit_write(actor=actor, district=row.district, action="person_password_give", row=row)
    lockout_lift(username=row.username)
    return password


def _password_set(row: Person) -> str:
    password = password_make()
    row.set_password(password)
    row.given_password_ends = timezone.now() + dt.timedelta(days=GIVEN_DAYS)
    row.given_password_used = None
    row.save(update_fields=["password", "given_password_ends", "given_password_used"])
    Invitation.objects.filter(person=row, stopped_at=None).update(stopped_at=timezone.now())
    return password


def given_password_use(*, person: Person) -> bool:
    """Take the one sign-in of a given password; False if it was taken before, or has ended.

    Of two sign-ins at one moment one gets it: the update repeats what it rests on.
    """
    now = timezone.now()
    unused = Person.objects.filter(pk=person.pk, password=person.password, given_password_used__isnull=True)
    return unused.filter(given_password_ends__gt=now).update(given_password_used=now) == 1


def own_password_choose(*, actor: Person, old_password: str, new_password: str) -> None:
    """Give oneself a password that nobody else knows; it differs from the old one by more than hyphens or capitals.

    Raises `ValidationError` by field (`old_password`, `new_password`); then nothing is changed. Sessions end; the
    caller keeps the present one.
    """
    if not actor.check_password(old_password):
        raise ValidationError({"old_password": OLD_WRONG})
    if _bare(new_password) == _bare(old_password):
        raise ValidationError({"new_password": MUST_DIFFER})
    if not _own_password_set(actor, new_password, "own_password_choose"):
        raise ValidationError({"old_password": OLD_WRONG})


def password_by_link_choose(*, person: Person, new_password: str) -> None:
    """Give oneself a password by a link that came to one's own mail address; the caller has checked the link.

    Every session ends, and tries that were wrong don't count anymore. Raises `ValidationError` under
    `new_password`; then nothing is changed.
    """
    if not _own_password_set(person, new_password, "password_by_link_choose"):
        raise ValidationError({"new_password": LINK_USED})
    lockout_lift(username=person.username)


def _own_password_set(person: Person, password: str, action: str) -> bool:
    """Set it if it may be one's own; False if another was set since the person was read."""
    try:
        validate_password(password, user=person)
    except ValidationError as error:
        raise ValidationError({"new_password": error.messages}) from error
    before = person.password
    person.set_password(password)
    with transaction.atomic():
        # Only if it is still the old one: a coordinator may have given another in the meantime.
        kept = Person.objects.filter(pk=person.pk, password=before)
        if not kept.update(password=person.password, given_password_ends=None, given_password_used=None):
            return False
        if person.district is not None:
            audit_write(actor=person, district=person.district, action=action, row=person)
    person.given_password_ends = person.given_password_used = None
    return True


def person_link_send(*, actor: Person, row: Person, site: str) -> None:
    """Have a link mailed to a person by which they choose a password: nobody else learns it.

    What they have keeps working until they choose another. Raises `ApplicationError` (409) where no mail leaves or
    there is no address; 404 for somebody who can't sign in.
    """
    _person_require(actor, row)
    if not row.is_active or row.by_link:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not mail_is_set_up():
        raise ApplicationError(NO_MAIL, code="no_mail")
    if not row.email:
        raise ApplicationError(NO_ADDRESS, code="no_address")
    with transaction.atomic():
        audit_write(actor=actor, district=district_of(row), action="person_link_send", row=row)
        link_send_later(row, site)


def links_send_for_address(*, address: str, site: str) -> None:
    """The same for whoever asks at the sign-in page: to everybody who can sign in and has this address.

    Says nothing of whether there is anybody.
    """
    for person in people_of_address(address) if mail_is_set_up() else ():
        link_send_later(person, site)


def _bare(password: str) -> str:
    return "".join(letter for letter in password.casefold() if letter not in "- ")


def person_active_set(*, actor: Person, row: Person, active: bool) -> Person:
    """Let a person sign in, or no longer; everything that the person made stays. Raises (409) for the actor.

    Whoever is stopped without a last day of work has it today; whoever is let in again has none anymore.
    """
    _person_require(actor, row)
    if row.pk == actor.pk and not active:
        raise ApplicationError(NOT_YOURSELF, code="not_yourself")
    values = {"is_active": active, "last_day": None if active else row.last_day or today_in(row.district)}
    return record_change(actor=actor, row=row, values=values, action="person_active_set", permission=PERMISSION)


def _person_require(actor: Person, row: Person) -> None:
    permission_require(actor, PERMISSION)
    if row.district_id is None or row.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def substitution_save(*, actor: Person, row: Substitution, values: Mapping[str, Any]) -> Substitution:
    """Save who covers whom from which date to which; the substitute sees the caseload in that time.

    What an absence of the teacher logged as missed on these dates is logged anew.
    """
    with transaction.atomic():
        was = _span_of(Substitution.objects.select_related("teacher").filter(pk=row.pk).first())
        record_change(actor=actor, row=row, values=values, action="substitution_save", permission=PERMISSION)
        substitution_changed.send(Substitution, spans=[*was, *_span_of(row)])
    return row


def substitution_delete(*, actor: Person, row: Substitution) -> None:
    """End a substitution at once: the substitute sees nothing of it anymore, and its calendar feeds go with it.

    What the substitute logged stays. What falls out again by an absence of the teacher is logged as missed.
    """
    with transaction.atomic():
        was = _span_of(row)
        record_remove(actor=actor, row=row, action="substitution_delete", permission=PERMISSION)
        substitution_changed.send(Substitution, spans=was)


def _span_of(row: Substitution | None) -> list[CoveredSpan]:
    return [] if row is None else [CoveredSpan(row.teacher, row.first_date, row.last_date)]


# ---- who stands in for an absence ------------------------------------------------------------------------


def cover_save(
    *, actor: Person, row: Substitution, values: Mapping[str, Any], sessions: Collection[UUID] = ()
) -> Substitution:
    """Save who stands in for an absence; with `sessions`, by their uids, for these alone.

    A teacher does it for the own days, a coordinator for everyone's. Raises as `record_change` does.
    """
    with transaction.atomic():
        record_change(actor=actor, row=row, values=values, action="substitution_save", permission=ARRANGE)
        kept = set(row.sessions.values_list("session_uid", flat=True))
        if kept != set(sessions):
            row.sessions.exclude(session_uid__in=sessions).delete()
            CoveredSession.objects.bulk_create(
                CoveredSession(substitution=row, session_uid=uid) for uid in sorted(set(sessions) - kept)
            )
            told = [sorted(map(str, kept)), sorted(map(str, set(sessions)))]
            where = district_of(row)
            audit_write(actor=actor, district=where, action="cover_sessions", row=row, changes={"sessions": told})
    return row


def cover_delete(*, actor: Person, row: Substitution) -> None:
    """Somebody doesn't stand in anymore; what they logged stays. A teacher's own, or the coordinator's to end."""
    if not actor.is_coordinator and row.teacher_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    record_remove(actor=actor, row=row, action="substitution_delete", permission=ARRANGE)


def link_person_make(*, actor: Person, name: str) -> Person:
    """Somebody who stands in by a link: known by name, without a sign-in. Raises `ValidationError` by field."""
    permission_require(actor, ARRANGE)
    row = Person(
        username=f"link-{secrets.token_hex(8)}",
        first_name=" ".join(name.split()),
        district=actor.district,
        role=Person.Role.SUBSTITUTE,
        by_link=True,
    )
    row.set_unusable_password()
    row_validate(row)
    with transaction.atomic():
        row.save()
        if actor.district is not None:
            audit_write(actor=actor, district=actor.district, action="link_person_make", row=row)
    return row


def district_start(*, name: str, time_zone: str, state: str, username: str) -> tuple[District, Person, str]:
    """A new district with its first coordinator; returns both and the coordinator's one-time password.

    Only for the command line: nobody at a page is above districts. Raises `ValidationError` by field.
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
