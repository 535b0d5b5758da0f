"""Writes about second factors: added, used, removed; and the codes that stand in once for one that was lost."""

import datetime as dt
import hmac
import secrets

import pyotp
from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person, RecoveryCode, SecondFactor
from accounts.people.services import PERMISSION
from accounts.services import NOT_THERE, audit_write, district_of, permission_require
from accounts.sign_in.passkeys import Registered
from accounts.sign_in.sealing import seal, unseal
from accounts.sign_in.selectors import has_factor

STEP = 30
"""Seconds of one code (RFC 6238, 5.2: the recommended time step)."""
EARLIER_OR_LATER = (0, -1, 1)
"""A code may be one step off, as phones' clocks are (RFC 6238, 5.2, recommends at most one)."""
RECOVERY_CODES, GROUPS, GROUP = 10, 3, 4
_LETTERS = "bcdfghjkmnpqrstvwxz23456789"
CODE_WRONG = "This code isn't right. Type the one that your app shows now; each works once."
TAKEN = "This passkey is there already."
PASSKEY, APP_CODE, RECOVERY_CODE = "a passkey", "a code of an app", "a recovery code"
"""Second steps, as the record of a sign-in says them."""


def codes_factor_add(*, actor: Person, name: str, secret: str, code: str, now: dt.datetime) -> SecondFactor:
    """Add an app that makes codes, once it has made a right one. `secret` is base32 (RFC 6238, RFC 4648).

    Raises `ValidationError` under `code`.
    """
    step = _step_of(secret, code, now, after=0)
    if step is None:
        raise ValidationError({"code": CODE_WRONG})
    row = SecondFactor(person=actor, kind=SecondFactor.Kind.CODES, name=name, secret=seal(secret), counter=step)
    return _added(actor, row)


def passkey_add(*, actor: Person, name: str, found: Registered) -> SecondFactor:
    """Add a passkey. Raises `ValidationError` if somebody has it already."""
    if SecondFactor.objects.filter(credential=found.credential).exists():
        raise ValidationError({"passkey": TAKEN})
    return _added(
        actor,
        SecondFactor(
            person=actor,
            kind=SecondFactor.Kind.PASSKEY,
            name=name,
            secret=found.public_key,
            credential=found.credential,
            counter=found.counter,
        ),
    )


def _added(actor: Person, row: SecondFactor) -> SecondFactor:
    with transaction.atomic():
        row.save()
        audit_write(actor=actor, district=district_of(row), action="second_factor_add", row=row)
    return row


def recovery_codes_make(*, actor: Person) -> list[str]:
    """Ten new codes in place of those that were there; shown once, kept as hashes. Each works once."""
    codes = [_code_make() for _ in range(RECOVERY_CODES)]
    with transaction.atomic():
        RecoveryCode.objects.filter(person=actor).delete()
        made = [RecoveryCode(person=actor, digest=make_password(_bare(one))) for one in codes]
        RecoveryCode.objects.bulk_create(made)
        if actor.district is not None:
            audit_write(actor=actor, district=actor.district, action="recovery_codes_make", row=actor)
    return codes


def _code_make() -> str:
    """Twelve letters and digits (57 bits) in groups."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(GROUP)) for _ in range(GROUPS))


def _bare(code: str) -> str:
    """However it was typed: with other capitals, without hyphens."""
    return "".join(letter for letter in code.casefold() if letter.isalnum())


def factor_remove(*, actor: Person, row: SecondFactor) -> None:
    """Remove one of one's own; with the last one the recovery codes go, too."""
    if row.person_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        audit_write(actor=actor, district=district_of(row), action="second_factor_remove", row=row)
        row.delete()
        if not has_factor(actor):
            RecoveryCode.objects.filter(person=actor).delete()


def person_factors_remove(*, actor: Person | None, row: Person) -> None:
    """Remove all of a person who lost them; a password alone lets them in until they set up another.

    For a coordinator of the district; without an actor for whoever runs the server.
    """
    if actor is not None:
        permission_require(actor, PERMISSION)
        if row.district_id is None or row.district_id != actor.district_id:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        if row.district is not None:
            audit_write(actor=actor, district=row.district, action="person_factors_remove", row=row)
        SecondFactor.objects.filter(person=row).delete()
        RecoveryCode.objects.filter(person=row).delete()


def code_take(*, person: Person, code: str, now: dt.datetime) -> str:
    """Take a code of a person's app, or a recovery code; which of both it was, or empty if it isn't right.

    One that was used before isn't.

    Of two at one moment one is taken: the update repeats what it rests on.
    """
    for row in SecondFactor.objects.filter(person=person, kind=SecondFactor.Kind.CODES):
        step = _step_of(unseal(row.secret) or "", code, now, after=row.counter)
        unused = SecondFactor.objects.filter(pk=row.pk, counter__lt=step or 0)
        if step is not None and unused.update(counter=step, used_at=now) == 1:
            return APP_CODE
    return RECOVERY_CODE if _recovery_take(person, _bare(code), now) else ""


def _recovery_take(person: Person, code: str, now: dt.datetime) -> bool:
    if len(code) != GROUPS * GROUP:
        return False
    left = RecoveryCode.objects.filter(person=person, used_at=None)
    found = next((row for row in left if check_password(code, row.digest)), None)
    return found is not None and left.filter(pk=found.pk).update(used_at=now) == 1


def passkey_used(*, row: SecondFactor, counter: int, now: dt.datetime) -> None:
    """Note that a passkey let somebody in."""
    SecondFactor.objects.filter(pk=row.pk).update(counter=counter, used_at=now)


def _step_of(secret: str, code: str, now: dt.datetime, *, after: int) -> int | None:
    """The time step that a code belongs to, later than one that was used before; None if it is none of now."""
    typed = "".join(code.split())
    if not secret or len(typed) != 6 or not typed.isdecimal() or not typed.isascii():
        return None
    made = pyotp.TOTP(secret, interval=STEP)
    present = int(now.timestamp()) // STEP
    for offset in EARLIER_OR_LATER:
        step = present + offset
        if step > after and hmac.compare_digest(made.generate_otp(step), typed):
            return step
    return None
