"""States and territories of the United States as two letters: those whose public holidays are known."""

import holidays

STATES = tuple(holidays.list_supported_countries()["US"])


def state_problem(state: str) -> str:
    """What is wrong with a state as it was typed, or nothing; none at all is right."""
    if not state or state in STATES:
        return ""
    return f"“{state}” isn't a state. Give two letters, such as NY, or leave it empty."
