"""Writes of a district's caution tags."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from accounts.models import AuditEntry, District, Person
from accounts.services import Changes, audit_write, record_change, record_remove
from accounts.services.undo import last_change_undo
from caseload.care.models import CautionTag
from caseload.care.selectors import TAGS_UNDO, last_tag_change
from caseload.care.written import FIRST_TAGS

PERMISSION = "district.change"
TAKEN_OFF = "caution_tag_taken_off"
"""The audit's word for what had a tag when it was deleted."""


def tags_ensure(instance: District, *, created: bool = True, raw: bool = False, **_signal: object) -> None:
    """Give a new district the tags that ship with the program; what is there already stays.

    Takes what Django says of a saved district: a known one, and one that a backup puts back (`raw`), keep theirs.
    """
    if created and not raw:
        CautionTag.objects.bulk_create(
            [CautionTag(district=instance, name=name) for name in FIRST_TAGS], ignore_conflicts=True
        )


def caution_tag_save(*, actor: Person, row: CautionTag, values: Mapping[str, Any]) -> CautionTag:
    """Save a tag of the actor's district. Raises `ValidationError` where the district has one of that name."""
    return record_change(actor=actor, row=row, values=values, action="caution_tag_save", permission=PERMISSION)


def caution_tag_delete(*, actor: Person, row: CautionTag) -> None:
    """Take a tag out of the district's list, and off all that has it. `caution_tag_take_back` undoes it."""
    with transaction.atomic():
        had = {name: sorted(getattr(row, name).values_list("pk", flat=True)) for name in _holders()}
        changes: Changes = {name: [pks, []] for name, pks in had.items() if pks}
        # Before the entry of the deletion, which is the last change of the tags.
        audit_write(actor=actor, district=row.district, action=TAKEN_OFF, row=row, changes=changes)
        record_remove(actor=actor, row=row, action="caution_tag_delete", permission=PERMISSION)


def _holders() -> list[str]:
    """Under which names a tag knows what has it: cautions, activities, spaces, stations."""
    return [str(one.get_accessor_name()) for one in CautionTag._meta.related_objects if one.many_to_many]


def caution_tag_take_back(*, actor: Person, seen: int | None = None) -> None:
    """Undo what was done last to the district's tags; a tag that was deleted is on all that had it again.

    `seen`: the id of the change that the person saw. Raises as `accounts.services.undo.last_change_undo`.
    """
    with transaction.atomic():
        last = last_tag_change(actor)
        row = last_change_undo(
            actor=actor, model=CautionTag, last=last, seen=seen, action=TAGS_UNDO, permission=PERMISSION
        )
        if last is None or row is None or str(row.pk) == last.entry.object_id:
            return
        off = AuditEntry.objects.filter(action=TAKEN_OFF, object_id=last.entry.object_id, district=actor.district)
        changes = off.order_by("-pk").values_list("changes", flat=True).first() or {}
        for name, (before, _) in changes.items():
            holder = getattr(row, name)
            holder.set(holder.model._meta.base_manager.filter(pk__in=before))
