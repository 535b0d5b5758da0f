"""Writes of invitations: sent to many, printed, taken back, mailed, used.

Each raises `ApplicationError` (403 for the role, 409 where it can't be done) or `ValidationError` by field.
"""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.invitations.hooks import invitations_mail_later
from accounts.invitations.mailing import invitation_link, invitation_mail
from accounts.invitations.selectors import (
    COME_IN,
    INVITED,
    SENDING,
    invitation_by_secret,
    people_in_district,
    people_waiting,
    secret_digest,
    standing_of,
)
from accounts.models import AuditEntry, Invitation, Person
from accounts.people.mailing import LinkNotSentError, mail_is_set_up
from accounts.people.services import LINK_USED, PERMISSION, password_by_link_choose, password_make
from accounts.services import audit_write, audit_write_many, district_of, permission_require

FEWEST_DAYS, USUAL_DAYS, MOST_DAYS = 1, 7, 30
DAYS_OUT = f"A link works for {FEWEST_DAYS} to {MOST_DAYS} days. Choose a number of days between."
NOBODY = "Choose at least one person."
NO_MAIL = "This site sends no mail. Print the invitations instead, or have mail set up (docs/running.md)."
NOT_OPEN = "There is no invitation to take back: it was used, has ended, or was taken back before."
HAS_COME_IN = "has come in already"
IS_INVITED = "has an invitation that still works: send it again on its own line"
NO_ADDRESS = "has no mail address: add one, or print the invitation"


@dataclass(frozen=True, slots=True)
class NotInvited:
    """Somebody who got no invitation, and why, as the rest of a sentence that begins with the name."""

    person: Person
    reason: str


@dataclass(frozen=True, slots=True)
class Slip:
    """An invitation to be printed; the link is nowhere else."""

    person: Person
    link: str
    ends_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Invited:
    """What came of inviting: who is mailed a link, or whose slip this is, and who was left out."""

    people: tuple[Person, ...]
    left_out: tuple[NotInvited, ...]
    slips: tuple[Slip, ...] = ()


def invitations_send(
    *, actor: Person, people: Collection[Person], days: int, site: str, again: bool = False
) -> Invited:
    """Have a link mailed to each by which they choose a password; it works once, for so many days.

    Whoever has a link that still works is left out, unless it is sent `again`: then the one before is dead.
    """
    permission_require(actor, PERMISSION)
    if not mail_is_set_up():
        raise ApplicationError(NO_MAIL, code="no_mail")
    with transaction.atomic():
        chosen, left_out = _chosen(actor, people, days, again=again, by_mail=True)
        rows = _invitations_keep(actor, dict.fromkeys(chosen, ""), days)
        if rows:
            invitations_mail_later([one.pk for one in rows], site, district_of(rows[0]).pk)
    return Invited(tuple(chosen), tuple(left_out))


def invitations_print(
    *, actor: Person, people: Collection[Person], days: int, site: str, again: bool = False
) -> Invited:
    """The same on paper: the links are in the answer, this once."""
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        chosen, left_out = _chosen(actor, people, days, again=again, by_mail=False)
        secrets = {one: password_make() for one in chosen}
        rows = _invitations_keep(actor, secrets, days)
    slips = [Slip(row.person, invitation_link(row.person, secrets[row.person], site), row.ends_at) for row in rows]
    return Invited(tuple(chosen), tuple(left_out), tuple(slips))


def _chosen(
    actor: Person, people: Collection[Person], days: int, *, again: bool, by_mail: bool
) -> tuple[list[Person], list[NotInvited]]:
    """Who gets one, locked so that of two sendings at one moment one does, and who doesn't."""
    problems = {} if FEWEST_DAYS <= days <= MOST_DAYS else {"days": DAYS_OUT}
    if not people:
        problems["people"] = NOBODY
    if problems:
        raise ValidationError(problems)
    asked = {one.pk for one in people}
    # In the order of their keys, so that two who send at one moment don't wait for each other.
    locked = Person.objects.select_for_update().filter(pk__in=asked, district=actor.district).order_by("pk")
    held = set(locked.values_list("pk", flat=True))
    now, chosen, left_out = timezone.now(), [], []
    for person in people_in_district(actor).filter(pk__in=held):
        reason = _left_out(person, standing_of(person, now), again=again, by_mail=by_mail)
        if reason:
            left_out.append(NotInvited(person, reason))
        else:
            chosen.append(person)
    return chosen, left_out


def _left_out(person: Person, standing: str, *, again: bool, by_mail: bool) -> str:
    if standing == COME_IN:
        return HAS_COME_IN
    if standing in {INVITED, SENDING} and not again:
        return IS_INVITED
    return NO_ADDRESS if by_mail and not person.email else ""


def _invitations_keep(actor: Person, secrets: Mapping[Person, str], days: int) -> list[Invitation]:
    """Keep one for each, in place of the one before; with a secret it is on paper, without one yet to mail."""
    now = timezone.now()
    rows = [
        Invitation(
            person=person,
            district=district_of(person),
            made_at=now,
            ends_at=now + dt.timedelta(days=days),
            on_paper=bool(secret),
            sent_at=now if secret else None,
            digest=secret_digest(secret) if secret else "",
        )
        for person, secret in secrets.items()
    ]
    fields = ["made_at", "ends_at", "on_paper", "sent_at", "failed", "stopped_at", "used_at", "digest"]
    Invitation.objects.bulk_create(rows, update_conflicts=True, unique_fields=["person"], update_fields=fields)
    kept = (
        Invitation.objects.filter(person__in=secrets)
        .select_related("person", "district")
        .order_by("person__last_name", "person__first_name", "person__username")
    )
    found = list(kept)
    audit_write_many(
        entries=[
            AuditEntry(
                actor=actor,
                district=row.district,
                action="invitation_send",
                model=Person._meta.label_lower,
                object_id=str(row.person_id),
                changes={"on_paper": [None, row.on_paper], "ends_at": [None, row.ends_at]},
            )
            for row in found
        ]
    )
    return found


def invitation_take_back(*, actor: Person, person: Person) -> None:
    """The link is dead from now on. Raises (409) where there is none that works."""
    permission_require(actor, PERMISSION)
    now = timezone.now()
    with transaction.atomic():
        rows = Invitation.objects.open_at(now).filter(person__in=people_waiting(actor).filter(pk=person.pk))
        if not rows.update(stopped_at=now):
            raise ApplicationError(NOT_OPEN, code="not_open")
        audit_write(actor=actor, district=district_of(person), action="invitation_take_back", row=person)


def invitation_mail_now(*, pk: int, site: str) -> bool:
    """Mail one, once: for the job. False where the mail server didn't take it.

    It counts as sent before the mail leaves: a worker that is killed in between leaves one that didn't arrive,
    never one that arrives twice.
    """
    secret, now = password_make(), timezone.now()
    rows = Invitation.objects.open_at(now).filter(pk=pk, sent_at=None, on_paper=False)
    if not rows.update(sent_at=now, digest=secret_digest(secret)):
        return True
    row = Invitation.objects.select_related("person", "district").get(pk=pk)
    try:
        invitation_mail(row, invitation_link(row.person, secret, site))
    except LinkNotSentError:
        mine = Invitation.objects.filter(pk=pk, digest=row.digest)
        mine.update(sent_at=None, digest="", failed=True)
        return False
    return True


def invitation_accept(*, person: Person, secret: str, new_password: str) -> None:
    """Choose a password by the link. Raises `ValidationError` under ``new_password``; then nothing is changed."""
    now = timezone.now()
    with transaction.atomic():
        row = invitation_by_secret(person=person, secret=secret, now=now)
        # Of two who open it at one moment one chooses.
        if row is None or not Invitation.objects.open_at(now).filter(pk=row.pk).update(used_at=now):
            raise ValidationError({"new_password": LINK_USED})
        password_by_link_choose(person=person, new_password=new_password)
