"""Reads of the room: what is written about care, and what is tried."""

from caseload.care.selectors.written import (
    CARE_MODELS,
    TAGS_UNDO,
    UNDO,
    CareChange,
    PastCare,
    care_of,
    care_settings_of,
    care_texts,
    cautions_met,
    contacts_of,
    contacts_of_class,
    keeps_parents,
    last_change,
    last_tag_change,
    past_care,
    tags_listed,
)

__all__ = [
    "CARE_MODELS",
    "TAGS_UNDO",
    "UNDO",
    "CareChange",
    "PastCare",
    "care_of",
    "care_settings_of",
    "care_texts",
    "cautions_met",
    "contacts_of",
    "contacts_of_class",
    "keeps_parents",
    "last_change",
    "last_tag_change",
    "past_care",
    "tags_listed",
]
