"""Writes: one way to save, delete and audit a row, and to take the last change back, used by every floor above."""

from accounts.services.matching import act_if_unchanged
from accounts.services.records import (
    NOT_LISTED,
    NOT_THERE,
    NOT_YOUR_ROLE,
    Changes,
    audit_write,
    audit_write_many,
    coordinator_require,
    district_of,
    permission_require,
    record_bring_back,
    record_change,
    record_delete,
    record_put_away,
    record_remove,
    record_save,
)

__all__ = [
    "NOT_LISTED",
    "NOT_THERE",
    "NOT_YOUR_ROLE",
    "Changes",
    "act_if_unchanged",
    "audit_write",
    "audit_write_many",
    "coordinator_require",
    "district_of",
    "permission_require",
    "record_bring_back",
    "record_change",
    "record_delete",
    "record_put_away",
    "record_remove",
    "record_save",
]
