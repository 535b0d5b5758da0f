"""Who has come in, who was invited and until when, who wasn't invited yet."""

import datetime as dt
import hashlib

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.contrib.auth.models import AnonymousUser
from django.db.models import Q, QuerySet

from accounts.models import Invitation, Person
from accounts.people.selectors import people_listed

NOT_INVITED, SENDING, INVITED, FAILED, ENDED, STOPPED, COME_IN = (
    "not_invited",
    "sending",
    "invited",
    "failed",
    "ended",
    "stopped",
    "come_in",
)
STANDINGS = {
    NOT_INVITED: "Not invited yet",
    SENDING: "The mail is on its way",
    INVITED: "Invited",
    FAILED: "The mail server refused the mail",
    ENDED: "The invitation ended",
    STOPPED: "The last invitation no longer works",
    COME_IN: "Has come in",
}

_NO_PASSWORD = Q(password__startswith=UNUSABLE_PASSWORD_PREFIX)
_WAITS = (Q(given_password_ends__isnull=False) | _NO_PASSWORD) & Q(provider_account=None)
"""No password of one's own, and no account at the district's provider by which they came in."""


def people_in_district(viewer: Person | AnonymousUser) -> QuerySet[Person]:
    """Everyone who may sign in, with the invitation that each got last; none for who may not change people."""
    rows = people_listed(viewer).filter(is_active=True).select_related("invitation", "provider_account", "district")
    return rows.order_by("last_name", "first_name", "username")


def people_waiting(viewer: Person | AnonymousUser) -> QuerySet[Person]:
    """Who has no password of their own yet and hasn't come in by the district's account."""
    return people_in_district(viewer).filter(_WAITS)


def people_come_in(viewer: Person | AnonymousUser) -> QuerySet[Person]:
    """Everybody else who may sign in."""
    return people_in_district(viewer).exclude(_WAITS)


def people_invited(viewer: Person | AnonymousUser, now: dt.datetime) -> QuerySet[Person]:
    """Who waits and has a link that works, or that is being sent."""
    return people_waiting(viewer).filter(invitation__in=Invitation.objects.open_at(now))


def people_to_invite(viewer: Person | AnonymousUser, now: dt.datetime) -> QuerySet[Person]:
    """Who waits and has no such link."""
    return people_waiting(viewer).exclude(invitation__in=Invitation.objects.open_at(now))


def invitation_of(person: Person) -> Invitation | None:
    """The one sent last."""
    return getattr(person, "invitation", None)


def standing_of(person: Person, now: dt.datetime) -> str:
    """A key of `STANDINGS`: how far somebody is who may sign in."""
    if person.has_usable_password() and not person.password_given:
        return COME_IN
    if getattr(person, "provider_account", None) is not None:
        return COME_IN
    row = invitation_of(person)
    return NOT_INVITED if row is None else _standing(row, now)


def _standing(row: Invitation, now: dt.datetime) -> str:
    if row.stopped_at is not None or row.used_at is not None:
        return STOPPED
    if row.failed:
        return FAILED
    if row.ends_at <= now:
        return ENDED
    return INVITED if row.sent_at else SENDING


def secret_digest(secret: str) -> str:
    """What is kept of a link's secret: it has 76 random bits and ends in a month at most, so one round holds."""
    return hashlib.sha256(secret.encode()).hexdigest()


def invitation_by_secret(*, person: Person, secret: str, now: dt.datetime) -> Invitation | None:
    """The invitation that a link opens: open, of somebody who may sign in and hasn't come in."""
    rows = Invitation.objects.open_at(now).filter(digest=secret_digest(secret), person=person)
    waits = Person.objects.filter(_WAITS, pk=person.pk, is_active=True, by_link=False)
    return rows.filter(person__in=waits).first()
