"""Writes of idempotency keys: in one transaction with what was sent under them."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.idempotency.moments import moment_of
from accounts.idempotency.shared import shared
from accounts.models import IdempotencyKey, Person

KEPT = dt.timedelta(days=60)
"""How long a key is known: longer than anything waits on a phone that is used (docs/offline.md)."""
AT_ONCE = dt.timedelta(minutes=2)
"""What is sent within this time wasn't sent later."""
USED = "This key was sent before with something else. Nothing is saved of this one: send it under a key of its own."


@dataclass(frozen=True, slots=True)
class Answered:
    """What a sending was answered with: the HTTP status, where it led, and the id of what it made.

    Not `final`: a form was shown once more, before it is sent with something else under the same key.
    """

    status: int
    location: str = ""
    made_id: str = ""
    final: bool = True


def moment_get(at: dt.datetime | None, now: dt.datetime | None = None) -> dt.datetime:
    """When something was done that is sent now: `at` where that is told, else now. `ValidationError` under `at`."""
    try:
        return moment_of(at, now or timezone.now())
    except ValueError as error:
        raise ValidationError({"at": str(error)}) from error


def told_later(at: dt.datetime | None, now: dt.datetime | None = None) -> dt.datetime | None:
    """When something was noted that is sent later; None if it is told of no time, or was sent as it was noted."""
    stored = now or timezone.now()
    moment = moment_get(at, stored)
    return moment if stored - moment > AT_ONCE else None


class _TakenMeanwhileError(Exception):
    """Another request took the same key between our look and our write."""


def sending_take(
    *, person: Person, key: str, content: str, act: Callable[[], Answered | None], now: dt.datetime | None = None
) -> IdempotencyKey | None:
    """Do what was sent unless it was done before; returns the key as it stands if it was.

    `act` answers with what it was answered with, or None if nothing was taken: then nothing is saved at all and the
    key is free. Key and work are one transaction: neither is there without the other, however the process ends.
    Raises `ApplicationError` (422, ``idempotency_key_used``, as the draft asks) if the key came with other content.
    """
    known = IdempotencyKey.objects.filter(person=person, key=key).first()
    if known is None:
        try:
            with transaction.atomic():
                _act_under(_claimed(person, key, content, now or timezone.now()), act)
        except _TakenMeanwhileError:
            known = IdempotencyKey.objects.get(person=person, key=key)
    if known is not None and known.content != content:
        raise ApplicationError(USED, code="idempotency_key_used", status=422)
    return known


WITHDRAWN = "withdrawn"


def key_withdraw(*, person: Person, key: str, now: dt.datetime | None = None) -> IdempotencyKey | None:
    """What was taken under a key, or nothing: then the key is used up, so that what is still on its way never is.

    For a sending that was taken back before anybody knew whether it had arrived. A second time answers the same.
    """
    sending = Answered(200)
    try:
        found = sending_take(person=person, key=key, content=WITHDRAWN, act=lambda: sending, now=now)
    except ApplicationError:
        found = IdempotencyKey.objects.get(person=person, key=key)
    return None if found is None or found.content == WITHDRAWN else found


def _claimed(person: Person, key: str, content: str, now: dt.datetime) -> IdempotencyKey:
    """The key, the person's own; a request that took it at the same time is waited for here."""
    try:
        row = IdempotencyKey.objects.create(person=person, key=key, content=content, taken_at=now)
    except IntegrityError as error:
        raise _TakenMeanwhileError from error
    old = IdempotencyKey.objects.filter(person=person, taken_at__lt=now - KEPT)
    shared(("old keys", person.pk), old.delete)
    return row


def _act_under(row: IdempotencyKey, act: Callable[[], Answered | None]) -> None:
    taken = act()
    if taken is None:
        transaction.set_rollback(True)
        return
    if not taken.final:
        row.delete()
        return
    told = {"status": taken.status, "location": taken.location, "made_id": taken.made_id}
    IdempotencyKey.objects.filter(pk=row.pk).update(**told)
