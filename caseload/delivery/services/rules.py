"""Writes of a district's reasons for missed minutes and of the rules of its ledger."""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_YOUR_ROLE, permission_require, record_change, record_remove
from caseload.delivery.models import LedgerSettings, MissedReason, ReasonEffect
from caseload.delivery.selectors.log import settings_of
from caseload.ledger.defaults import DEFAULT_REASONS
from travel.mileage.models import SINCE_EVER

PERMISSION = "ledger.change"
COPIED = (
    "short_week", "carry_ahead", "counts_from", "least_minutes", "backdating_days", "make_up_days",
    "under_required", "usual_times_worth",
)  # fmt: skip
ONE_DAY = dt.timedelta(days=1)


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
    """Save several reasons of the actor's district at once, by their codes, all or none.

    With a `first_day` among its values a reason's `effect` holds for sessions from that day on; the same effect as
    before that day takes such a change back. Without one it has always been so.
    """
    permission_require(actor, PERMISSION)
    saved = []
    with transaction.atomic():
        known = reasons_get(actor.district, values) if actor.district is not None else {}
        for code, changed in values.items():
            row = known.get(code) or MissedReason(district=actor.district, code=code)
            now = {name: value for name, value in changed.items() if name != "first_day"}
            first_day = changed.get("first_day") or SINCE_EVER
            later = now.pop("effect", None) if first_day > SINCE_EVER else None
            row = record_change(actor=actor, row=row, values=now, action="reasons_save", permission=PERMISSION)
            if later is not None:
                _effect_from(actor, row, first_day, later)
            saved.append(row)
    return saved


def _effect_from(actor: Person, row: MissedReason, first_day: dt.date, effect: str) -> None:
    """What a reason does from a day on; nothing is kept where that is what it did before."""
    dated = row.effects.filter(first_day=first_day).first()
    if effect != row.effect_on(first_day - ONE_DAY):
        record_change(
            actor=actor,
            row=dated or ReasonEffect(reason=row, first_day=first_day),
            values={"effect": effect},
            action="reasons_save",
            permission=PERMISSION,
        )
    elif dated is not None:
        record_remove(actor=actor, row=dated, action="reasons_save", permission=PERMISSION)


def reason_delete(*, actor: Person, row: MissedReason) -> None:
    """Take a reason out of the district's table. Refused once an entry of the log or a decision gives it."""
    record_remove(actor=actor, row=row, action="reason_delete", permission=PERMISSION)


def ledger_settings_save(*, actor: Person, values: Mapping[str, Any]) -> LedgerSettings:
    """Save the rules of the actor's district: short weeks, carrying, where counting begins, limits.

    With a `first_day` among the values they hold from that day on, and days before it keep theirs; rules that begin
    on that very day are corrected. Without one, the rules that hold today are corrected since their own first day.
    """
    permission_require(actor, PERMISSION)
    if actor.district is None:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    return ledger_rules_save(actor=actor, row=_settings_row(actor.district, values.get("first_day")), values=values)


def ledger_rules_save(*, actor: Person, row: LedgerSettings, values: Mapping[str, Any]) -> LedgerSettings:
    """Save one set of rules with its first day. Refused where others begin on that day."""
    return record_change(actor=actor, row=row, values=values, action="ledger_settings_save", permission=PERMISSION)


def _settings_row(district: District, first_day: dt.date | None) -> LedgerSettings:
    """The row to be saved: the one that begins on a day, or a new one like that which holds then."""
    if first_day is None:
        return settings_of(district)
    row = settings_of(district, first_day)
    if row.first_day == first_day:
        return row
    return LedgerSettings(district=district, **{name: getattr(row, name) for name in COPIED})


def ledger_settings_delete(*, actor: Person, row: LedgerSettings) -> None:
    """Take rules back: from their first day on those before them hold again."""
    record_remove(actor=actor, row=row, action="ledger_settings_delete", permission=PERMISSION)
