"""How the last data of a goal lie to its aim line, by the rule that a district chose. Pure."""

from enum import StrEnum


class DecisionRule(StrEnum):
    """Which of the last data are looked at."""

    THREE_DAYS = "three_days"
    FOUR_POINTS = "four_points"


DECISION_WORDS = {
    DecisionRule.THREE_DAYS: "Three days in a row",
    DecisionRule.FOUR_POINTS: "The last four points",
}

DAYS_WITHOUT_DATA = 14
"""Two weeks: common practice, no source."""
