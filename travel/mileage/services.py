"""Writes about mileage that need no week: a district's rules and rates, a teacher's home.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Callable, Mapping
from copy import copy
from typing import Any

from django.db import models, transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require, record_change, record_remove
from travel.mileage.foreseen import changes_in_words
from travel.mileage.models import AccountCode, MileageRate, MileageSettings, TeacherHome
from travel.mileage.rates import STANDARD_RATES
from travel.mileage.selectors import trip_claims

RULES = "mileage.rules"
OWN = "mileage.view"


def mileage_settings_save(*, actor: Person, row: MileageSettings, values: Mapping[str, Any]) -> MileageSettings:
    """Save which miles the district pays from a day on. Vouchers that were submitted stay as they are."""
    return record_change(actor=actor, row=row, values=values, action="mileage_settings_save", permission=RULES)


def mileage_settings_delete(*, actor: Person, row: MileageSettings) -> None:
    """Take rules back: from their first day on those before them hold again."""
    record_remove(actor=actor, row=row, action="mileage_settings_delete", permission=RULES)


def mileage_rates_copy(*, actor: Person) -> list[MileageRate]:
    """Take the published rates over as the district's own, so that they can be changed.

    Raises `ApplicationError` (code ``own_rates``) if the district has rates of its own.
    """
    permission_require(actor, RULES)
    with transaction.atomic():
        if MileageRate.objects.changeable_by(actor).exists():
            raise ApplicationError("The district already has its own rates.", code="own_rates")
        return _rates_copy(actor)


def _rates_copy(actor: Person, instead: dt.date | None = None) -> list[MileageRate]:
    """The published rates as rows, but for the day of one `instead`; call it inside a transaction."""
    rows = []
    for rate in STANDARD_RATES:
        if rate.first_day == instead:
            continue
        row = MileageRate(
            first_day=rate.first_day,
            dollars=rate.dollars,
            source=rate.source,
            last_day=rate.last_day,
            district=actor.district,
        )
        row.full_clean()
        row.save()
        audit_write(actor=actor, district=row.district, action="mileage_rates_copy", row=row)
        rows.append(row)
    return rows


def mileage_rate_save(*, actor: Person, row: MileageRate, values: Mapping[str, Any]) -> MileageRate:
    """Save a rate. The first one that a district enters joins the published ones, which become its own."""
    permission_require(actor, RULES)
    with transaction.atomic():
        if not MileageRate.objects.changeable_by(actor).exists():
            _rates_copy(actor, instead=values.get("first_day"))
        return record_change(actor=actor, row=row, values=values, action="mileage_rate_save", permission=RULES)


def mileage_rate_delete(*, actor: Person, row: MileageRate) -> None:
    """Delete a rate: the one before it applies instead; without any, the published ones do.

    Submitted vouchers keep the rate that they were paid at.
    """
    record_remove(actor=actor, row=row, action="mileage_rate_delete", permission=RULES)


def account_code_save(*, actor: Person, row: AccountCode, values: Mapping[str, Any]) -> AccountCode:
    """Save what a building's or a teacher's trips are booked to from a day on. Submitted vouchers keep theirs."""
    return record_change(actor=actor, row=row, values=values, action="account_code_save", permission=RULES)


def account_code_delete(*, actor: Person, row: AccountCode) -> None:
    """Take a code back: what held before its first day goes on."""
    record_remove(actor=actor, row=row, action="account_code_delete", permission=RULES)


def teacher_home_save(*, actor: Person, row: TeacherHome, values: Mapping[str, Any]) -> TeacherHome:
    """Save where a teacher's days begin from a day on; `teacher` is the actor where none is given."""
    if getattr(row, "teacher_id", None) is None and "teacher" not in values:
        row.teacher = actor
    return record_change(actor=actor, row=row, values=values, action="teacher_home_save", permission=OWN)


def teacher_home_delete(*, actor: Person, row: TeacherHome) -> None:
    """Take back what was said of home and commute: from its first day on, what was said before holds again."""
    record_remove(actor=actor, row=row, action="teacher_home_delete", permission=OWN)


def effects_foreseen[M: models.Model](*, actor: Person, row: M, act: Callable[[M], object]) -> list[str]:
    """What saving or deleting a row would change of confirmed trips, in sentences; nothing is saved.

    `act` gets a copy of `row`, which is left as it was. Raises what `act` raises.
    """
    if actor.district is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    kept = copy(row)
    # A new home may be told only by `act` whose it is; then the whole district's trips are compared.
    teacher = kept.teacher_id if isinstance(kept, TeacherHome) else None
    with transaction.atomic():
        before = trip_claims(actor.district, teacher)
        act(kept)
        after = trip_claims(actor.district, teacher)
        transaction.set_rollback(True)
    return changes_in_words(before, after)
