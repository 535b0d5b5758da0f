"""Rules that a floor above adds to what a caseload service saves.

Whether a service fits into a period of the bells can only be said by the schedule floor, which this one must not
import; the schedule floor registers its rules here when the application starts (schedule.apps).
"""

from collections.abc import Mapping
from typing import Any

from accounts.validation import Rule
from caseload.models import ServiceLine, StudentHold

line_rules: list[Rule[ServiceLine]] = []
hold_rules: list[Rule[StudentHold]] = []


def rules_add(*, lines: Rule[ServiceLine], holds: Rule[StudentHold]) -> None:
    """Register one rule for each kind of row; registering twice has no effect."""
    if lines not in line_rules:
        line_rules.append(lines)
    if holds not in hold_rules:
        hold_rules.append(holds)


def line_is_held_against_the_floors_above(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """All registered rules for a service line."""
    return {name: text for rule in line_rules for name, text in rule(row, values).items()}


def hold_is_held_against_the_floors_above(row: StudentHold, values: Mapping[str, Any]) -> dict[str, str]:
    """All registered rules for a time when a student can't be taken."""
    return {name: text for rule in hold_rules for name, text in rule(row, values).items()}
