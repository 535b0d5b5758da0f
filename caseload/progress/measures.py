"""What a goal measures, and the words and limits of each measure. Pure."""

from enum import StrEnum


class Measure(StrEnum):
    """What one data point of a goal is."""

    TRIALS = "trials"
    PERCENT = "percent"
    COUNT = "count"
    SECONDS = "seconds"
    LAPS = "laps"
    STEPS = "steps"
    DISTANCE = "distance"
    PROMPT = "prompt"
    RUBRIC = "rubric"


class Wanted(StrEnum):
    """Which way a goal's figures are to go."""

    MORE = "more"
    LESS = "less"


MEASURE_WORDS = {
    Measure.TRIALS: "Trials done of those tried",
    Measure.PERCENT: "Percent",
    Measure.COUNT: "How many times",
    Measure.SECONDS: "Seconds",
    Measure.LAPS: "Laps",
    Measure.STEPS: "Steps",
    Measure.DISTANCE: "Distance",
    Measure.PROMPT: "Level of prompt",
    Measure.RUBRIC: "Level of a rubric",
}
WANTED_WORDS = {Wanted.MORE: "More is what the goal wants", Wanted.LESS: "Less is what the goal wants"}

PROMPT_LEVELS = (
    "Full physical prompt",
    "Partial physical prompt",
    "Model",
    "Gesture",
    "Verbal prompt",
    "Independent",
)
"""From the most help to none: the order of most-to-least prompting as it is usually taught (common practice, from
memory). A goal may name its own."""

DISTANCE_UNITS = ("in", "ft", "yd", "cm", "m", "mi", "km")

UNITS = {
    Measure.TRIALS: "of trials",
    Measure.PERCENT: "%",
    Measure.COUNT: "times",
    Measure.SECONDS: "seconds",
    Measure.LAPS: "laps",
    Measure.STEPS: "steps",
}


def rubric_levels(count: int) -> str:
    """Names for the levels of a rubric that only says how many it has, one a line."""
    return "\n".join(f"Level {number}" for number in range(1, count + 1))
