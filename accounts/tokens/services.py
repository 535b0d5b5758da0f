"""Writes of API tokens: made, used, taken away."""

import datetime as dt
import hashlib
import secrets

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Case, DateTimeField, DurationField, ExpressionWrapper, F, Q, Value, When
from django.db.models.functions import Now
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import ApiToken, Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE, Changes, audit_write
from accounts.tokens.rates import SECONDS, Left, left_of
from accounts.validation import row_validate

PREFIX = "mm_"
"""So that programs that look for secrets in texts know one."""
SECRET_BYTES = 32
LONGEST = dt.timedelta(days=366)
MOST = 20
AGAIN = dt.timedelta(minutes=1)
TOO_LONG = "A token works for a year at most. Choose an earlier day."
OVER = "This day is over. Choose a later one."
TOO_MANY = "You have 20 tokens. Take one away first."


def token_digest(token: str) -> str:
    """What is kept of a token: it has 256 random bits, so one round of a hash holds."""
    return hashlib.sha256(token.encode()).hexdigest()


def token_make(*, actor: Person, name: str, scope: str, last_day: dt.date) -> tuple[ApiToken, str]:
    """A new token of one's own, and the token itself, which can't be read again. `ValidationError` by field."""
    today = today_of(actor)
    if last_day < today:
        raise ValidationError({"last_day": OVER})
    if last_day > today + LONGEST:
        raise ValidationError({"last_day": TOO_LONG})
    if ApiToken.objects.filter(person=actor).count() >= MOST:
        raise ApplicationError(TOO_MANY, code="too_many_tokens")
    token = PREFIX + secrets.token_urlsafe(SECRET_BYTES)
    row = ApiToken(
        person=actor, role=actor.role, name=name.strip(), scope=scope, last_day=last_day, digest=token_digest(token)
    )
    row_validate(row)
    with transaction.atomic():
        row.save()
        if actor.district is not None:
            told: Changes = {"scope": [None, scope], "last_day": [None, last_day]}
            audit_write(actor=actor, district=actor.district, action="token_make", row=row, changes=told)
    return row, token


def token_remove(*, actor: Person, row: ApiToken) -> None:
    """Take one of one's own away: it works no longer."""
    if row.person_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        if actor.district is not None:
            audit_write(actor=actor, district=actor.district, action="token_remove", row=row)
        row.delete()


def token_used(*, row: ApiToken) -> None:
    """Note that it was used, once a minute at most: what the row says already isn't written again."""
    now = timezone.now()
    if row.used_at is None or row.used_at < now - AGAIN:
        ApiToken.objects.filter(Q(used_at=None) | Q(used_at__lt=now - AGAIN), pk=row.pk).update(used_at=now)


def token_take(*, row: ApiToken) -> Left | None:
    """Take one request of the token's minute, which begins with the first; what is left of it. None: it is gone.

    Counted in the database and by its clock, so that all web processes on all machines count together.
    """
    span = Value(dt.timedelta(seconds=-SECONDS), output_field=DurationField())
    under_way = When(
        minute_began__gt=ExpressionWrapper(Now() + span, output_field=DateTimeField()), then=F("taken") + 1
    )
    same = ApiToken.objects.filter(pk=row.pk)
    with transaction.atomic():
        # The row is locked by the first statement, so that the second reads what this request took.
        same.update(
            taken=Case(under_way, default=Value(1)),
            minute_began=Case(When(under_way.condition, then=F("minute_began")), default=Now()),
        )
        found = same.values_list("taken", "minute_began", Now()).first()
    return left_of(*found) if found else None
