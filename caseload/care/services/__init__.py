"""Writes of the room, by what they are about."""

from caseload.care.services.tags import caution_tag_delete, caution_tag_save, tags_ensure

__all__ = ["caution_tag_delete", "caution_tag_save", "tags_ensure"]
