"""Writes of what is tried with a student who came before the plan did.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import record_change, record_remove
from caseload.care.models import Support, Try
from caseload.care.selectors.tries import support_kind_of, tried_of
from caseload.care.services.records import PERMISSION, support_remove, support_save
from caseload.care.trying import PROVISIONAL, support_text
from caseload.plans.models import Student

NOTHING_SEEN = "Nothing has been seen yet that could become a support: say of at least one try what came of it."


def try_save(*, actor: Person, row: Try, values: Mapping[str, Any]) -> Try:
    """Save a try; what came of it is seen today by the actor, unless another day is given."""
    given = dict(values)
    if given.get("outcome", row.outcome) == Try.Seen.NOT_YET:
        given |= {"seen_on": None, "seen_by": None}
    elif "outcome" in given:
        given["seen_on"] = given.get("seen_on") or row.seen_on or today_of(actor)
        given["seen_by"] = actor
    return record_change(actor=actor, row=row, values=given, action="try_save", permission=PERMISSION)


def try_remove(*, actor: Person, row: Try) -> None:
    """Take a try off the list; a support that was made of it stays."""
    record_remove(actor=actor, row=row, action="try_remove", permission=PERMISSION)


def support_sheet_make(*, actor: Person, student: Student) -> list[Support]:
    """Make provisional supports of what helped; those that were made before say what was seen since.

    Raises `ApplicationError` (``nothing_seen``) where nothing helped, even sometimes.
    """
    with transaction.atomic():
        rows = [row for row in student.tries.select_related("support") if row.helped]
        if not rows:
            raise ApplicationError(NOTHING_SEEN, code="nothing_seen")
        return [_support_of(actor, row) for row in rows]


def _support_of(actor: Person, row: Try) -> Support:
    values = {
        "kind": support_kind_of(row),
        "text": support_text(tried_of(row)),
        "source": PROVISIONAL,
        "written_on": row.seen_on,
        "is_provisional": True,
    }
    support = row.support or Support(student=row.student)
    if support.pk and not support.is_provisional:
        return support
    saved = support_save(actor=actor, row=support, values=values)
    if row.support_id != saved.pk:
        record_change(
            actor=actor, row=row, values={"support": saved}, action="support_sheet_make", permission=PERMISSION
        )
    return saved


def support_sheet_take_back(*, actor: Person, student: Student) -> int:
    """Take away the provisional supports that were made of tries, and say how many; the tries stay."""
    with transaction.atomic():
        rows = Support.objects.filter(tries__student=student, is_provisional=True).distinct()
        for row in rows:
            support_remove(actor=actor, row=row)
        return len(rows)
