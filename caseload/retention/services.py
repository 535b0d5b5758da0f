"""Writes of rules for keeping records, of holds, and of words with parents. None of them erases anything."""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from accounts.services import record_change, record_remove
from caseload.retention.models import ErasureHold, ParentsWord, RetentionRule

KEEP = "records.keep"


def retention_rule_save(*, actor: Person, row: RetentionRule, values: Mapping[str, Any]) -> RetentionRule:
    """Save how long records are kept. Raises `ValidationError` by field; 403 for anybody but a coordinator."""
    return record_change(actor=actor, row=row, values=values, action="retention_rule_save", permission=KEEP)


def retention_rule_delete(*, actor: Person, row: RetentionRule) -> None:
    """Take a rule away: the one before it holds on, or nothing goes."""
    record_remove(actor=actor, row=row, action="retention_rule_delete", permission=KEEP)


def erasure_hold_save(*, actor: Person, row: ErasureHold, values: Mapping[str, Any]) -> ErasureHold:
    """Save why nothing of a student is erased, from and until when."""
    return record_change(actor=actor, row=row, values=values, action="erasure_hold_save", permission=KEEP)


def erasure_hold_delete(*, actor: Person, row: ErasureHold) -> None:
    """Take a hold away that was entered by mistake; one that is over gets a last day."""
    record_remove(actor=actor, row=row, action="erasure_hold_delete", permission=KEEP)


def parents_word_save(*, actor: Person, row: ParentsWord, values: Mapping[str, Any]) -> ParentsWord:
    """Save what parents were told, or asked for."""
    return record_change(actor=actor, row=row, values=values, action="parents_word_save", permission=KEEP)


def parents_word_delete(*, actor: Person, row: ParentsWord) -> None:
    """Take away what was entered by mistake."""
    record_remove(actor=actor, row=row, action="parents_word_delete", permission=KEEP)
