"""Writes of a district's rules for signing in."""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person, SignInRules
from accounts.services import record_change

PERMISSION = "district.settings"
ROLES = ("factor_coordinators", "factor_teachers", "factor_substitutes", "factor_offices", "factor_reviewers")
NO_DAY = "Say from which day, so that everybody has time to set one up."
NOBODY = "Tick at least one role, or leave the day empty."


def sign_in_rules_save(*, actor: Person, row: SignInRules, values: Mapping[str, Any]) -> SignInRules:
    """Save what the actor's district asks of whoever signs in. Raises `ValidationError` by field."""
    asked = any(values.get(name, getattr(row, name)) for name in ROLES)
    day = values.get("factor_first_day", row.factor_first_day)
    problems = {}
    if asked and day is None:
        problems["factor_first_day"] = NO_DAY
    if day is not None and not asked:
        problems["factor_first_day"] = NOBODY
    return record_change(
        actor=actor, row=row, values=values, action="sign_in_rules_save", permission=PERMISSION, problems=problems
    )
