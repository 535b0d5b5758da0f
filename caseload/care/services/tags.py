"""Writes of a district's caution tags."""

from collections.abc import Mapping
from typing import Any

from accounts.models import District, Person
from accounts.services import record_change, record_remove
from caseload.care.models import CautionTag
from caseload.care.written import FIRST_TAGS

PERMISSION = "district.change"


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
    """Take a tag out of the district's list, and off the cautions and activities that have it."""
    record_remove(actor=actor, row=row, action="caution_tag_delete", permission=PERMISSION)
