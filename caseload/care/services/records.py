"""Writes of supports, cautions and contacts.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_YOUR_ROLE, record_change, record_remove
from caseload.care.models import CareSettings, Caution, Contact, Support
from caseload.care.selectors import keeps_parents
from caseload.care.written import ON_RECORD
from caseload.plans.models import Student

PERMISSION = "caseload.change"
NO_PARENTS = (
    "Your district doesn't keep parents here. Leave them in the school's own records, or ask the coordinator to "
    "turn this on."
)


def support_save(*, actor: Person, row: Support, values: Mapping[str, Any]) -> Support:
    """Save a support. Another student is kept only with the kinds that are about two."""
    given = dict(values)
    if "kind" in given and given["kind"] not in {Support.Kind.WITH, Support.Kind.APART}:
        given["other_student"] = None
    return record_change(actor=actor, row=row, values=given, action="support_save", permission=PERMISSION)


def support_remove(*, actor: Person, row: Support) -> None:
    """Take a support away: also from what was shown of days past. What ends keeps its last day instead."""
    record_remove(actor=actor, row=row, action="support_remove", permission=PERMISSION)


def caution_save(*, actor: Person, row: Caution, values: Mapping[str, Any]) -> Caution:
    """Save a caution with its tags."""
    return record_change(actor=actor, row=row, values=values, action="caution_save", permission=PERMISSION)


def caution_remove(*, actor: Person, row: Caution) -> None:
    """Take a caution away."""
    record_remove(actor=actor, row=row, action="caution_remove", permission=PERMISSION)


def contact_save(*, actor: Person, row: Contact, values: Mapping[str, Any]) -> Contact:
    """Save a contact of a student or a class; a parent only where the district keeps them here."""
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="contact_save",
        permission=PERMISSION,
        rules=[_parents_only_where_kept],
    )


def _parents_only_where_kept(row: Contact, values: Mapping[str, Any]) -> Mapping[str, str]:
    del values
    if row.role != Contact.Role.PARENT or keeps_parents(row.district):
        return {}
    return {"role": NO_PARENTS}


def contact_remove(*, actor: Person, row: Contact) -> None:
    """Take a contact away."""
    record_remove(actor=actor, row=row, action="contact_remove", permission=PERMISSION)


def care_settings_save(*, actor: Person, values: Mapping[str, Any]) -> CareSettings:
    """Save what the actor's district decided about contacts. Those kept already stay until they are removed."""
    if actor.district is None:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    row = CareSettings.objects.filter(district=actor.district).first() or CareSettings(district=actor.district)
    return record_change(
        actor=actor, row=row, values=values, action="care_settings_save", permission="district.settings"
    )


def care_texts_save(*, actor: Person, student: Student, texts: Mapping[str, str]) -> None:
    """Save `supports` and `cautions` as the student's own record has them: one text each, empty for none.

    They are one plain support and one plain caution, whose source says that they are the record's. Others stay.
    """
    with transaction.atomic():
        if "supports" in texts:
            found = student.support_rows.filter(source=ON_RECORD).first()
            fresh = Support(student=student, source=ON_RECORD)
            _text_save(actor, found, fresh, texts["supports"], (support_save, support_remove), "supports")
        if "cautions" in texts:
            kept = student.caution_rows.filter(source=ON_RECORD).first()
            new = Caution(student=student, source=ON_RECORD)
            _text_save(actor, kept, new, texts["cautions"], (caution_save, caution_remove), "cautions")


def _text_save(actor: Person, found: Any, fresh: Any, text: str, services: tuple[Any, Any], name: str) -> None:
    save, remove = services
    if text.strip():
        try:
            save(actor=actor, row=found or fresh, values={"text": text.strip()})
        except ValidationError as error:
            # The caller knows the text by the name of its own field.
            raise ValidationError({name: error.error_dict.get("text", error.messages)}) from error
    elif found is not None:
        remove(actor=actor, row=found)
