"""Writes of a district's reasons for missed minutes and of the rules of its ledger."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from accounts.models import District, Person
from accounts.services import permission_require, record_change, record_remove
from caseload.delivery.models import LedgerSettings, MissedReason
from caseload.ledger.defaults import DEFAULT_REASONS

PERMISSION = "ledger.change"


def reasons_ensure(district: District) -> None:
    """Give a district the table that ships with the program, unless it has one.

    Two at once are one: what is there already stays.
    """
    if MissedReason.objects.filter(district=district).exists():
        return
    MissedReason.objects.bulk_create(
        [
            MissedReason(
                district=district,
                code=one.code,
                words=one.words,
                effect=one.effect.value,
                position=position * 10,
            )
            for position, one in enumerate(DEFAULT_REASONS, start=1)
        ],
        ignore_conflicts=True,
    )


def reasons_get(district: District, codes: Iterable[str]) -> dict[str, MissedReason]:
    """The reasons of these codes that the district's table holds; no query where no code is given."""
    wanted = {code for code in codes if code}
    if not wanted:
        return {}
    reasons_ensure(district)
    return {row.code: row for row in MissedReason.objects.filter(district=district, code__in=wanted)}


def reason_save(*, actor: Person, row: MissedReason, values: Mapping[str, Any]) -> MissedReason:
    """Save a reason: its words, and what it does to missed minutes from the beginning of the ledger on."""
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        if actor.district is not None:
            reasons_ensure(actor.district)
        return record_change(actor=actor, row=row, values=values, action="reason_save", permission=PERMISSION)


def reasons_save(*, actor: Person, values: Mapping[str, Mapping[str, Any]]) -> list[MissedReason]:
    """Save several reasons of the actor's district at once, by their codes, all or none."""
    permission_require(actor, PERMISSION)
    saved = []
    with transaction.atomic():
        known = reasons_get(actor.district, values) if actor.district is not None else {}
        for code, changed in values.items():
            row = known.get(code) or MissedReason(district=actor.district, code=code)
            saved.append(
                record_change(actor=actor, row=row, values=changed, action="reasons_save", permission=PERMISSION)
            )
    return saved


def reason_delete(*, actor: Person, row: MissedReason) -> None:
    """Take a reason out of the district's table. Refused once an entry of the log or a decision gives it."""
    record_remove(actor=actor, row=row, action="reason_delete", permission=PERMISSION)


def ledger_settings_save(*, actor: Person, values: Mapping[str, Any]) -> LedgerSettings:
    """Save the rules of the actor's district: short weeks, carrying, first day, limits."""
    permission_require(actor, PERMISSION)
    row = LedgerSettings.objects.filter(district=actor.district).first() or LedgerSettings(district=actor.district)
    return record_change(actor=actor, row=row, values=values, action="ledger_settings_save", permission=PERMISSION)
