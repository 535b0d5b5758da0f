"""What a change of the rules of minutes would change of services' figures, in sentences. Pure."""

from collections.abc import Mapping

from caseload.ledger.figures import MinuteFigures, figures_together

NAMES = {
    "owed": "Owed to date",
    "not_owed": "Missed and not owed",
    "undecided": "Left to the team",
    "carried": "Carried",
    "behind": "Still owed",
    "ahead": "Ahead",
}


def figures_told(before: Mapping[int, MinuteFigures], after: Mapping[int, MinuteFigures]) -> list[str]:
    """How many services' figures change, and each sum that does; empty where none does."""
    changed = [key for key in after if after[key] != before.get(key, MinuteFigures())]
    if not changed:
        return []
    was = figures_together(before.get(key, MinuteFigures()) for key in changed)
    then = figures_together(after[key] for key in changed)
    told = [f"{len(changed)} service{'s' if len(changed) > 1 else ''} would have other figures up to today."]
    for name, words in NAMES.items():
        old, new = getattr(was, name), getattr(then, name)
        if old != new:
            told.append(f"{words}: {old:,} minutes now, {new:,} then.")
    return told
