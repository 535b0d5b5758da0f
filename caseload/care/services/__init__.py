"""Writes of the room, by what they are about."""

from caseload.care.services.records import (
    care_settings_save,
    care_texts_save,
    caution_remove,
    caution_save,
    contact_remove,
    contact_save,
    support_remove,
    support_save,
)
from caseload.care.services.tags import caution_tag_delete, caution_tag_save, caution_tag_take_back, tags_ensure
from caseload.care.services.trying import support_sheet_make, support_sheet_take_back, try_remove, try_save
from caseload.care.services.undo import care_take_back

__all__ = [
    "care_settings_save",
    "care_take_back",
    "care_texts_save",
    "caution_remove",
    "caution_save",
    "caution_tag_delete",
    "caution_tag_save",
    "caution_tag_take_back",
    "contact_remove",
    "contact_save",
    "support_remove",
    "support_save",
    "support_sheet_make",
    "support_sheet_take_back",
    "tags_ensure",
    "try_remove",
    "try_save",
]
