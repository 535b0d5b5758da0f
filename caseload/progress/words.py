"""Goals, figures and what the data say, in words. Pure."""

import datetime as dt
from decimal import Decimal

from accounts.dates import date_words
from caseload.progress.measures import PROMPT_LEVELS, UNITS, Measure, Wanted
from caseload.progress.points import Decision, DecisionRule, Lie
from caseload.progress.reading import GoalReading
from caseload.progress.trend import HowSure, ReachDay, TooFew, Trend


def number_words(value: Decimal | float) -> str:
    """At most two places, and none that say nothing: ``3``, ``2.5``."""
    return f"{Decimal(str(round(float(value), 2))).normalize():f}"


def figure_words(
    measure: str, value: Decimal | float, *, trials: int | None = None, unit: str = "", levels: tuple[str, ...] = ()
) -> str:
    """A figure with what it is of: ``4 of 5 trials``, ``80 %``, ``20 ft``, ``level 3, Model``."""
    told = number_words(value)
    if measure == Measure.TRIALS:
        return f"{told} of {trials} trial{'' if trials == 1 else 's'}"
    if measure in {Measure.PROMPT, Measure.RUBRIC}:
        place = int(value) - 1
        return f"level {told}" + (f", {levels[place]}" if value == int(value) and 0 <= place < len(levels) else "")
    if measure == Measure.DISTANCE:
        return f"{told} {unit}".strip()
    return f"{told} {one_of(measure, value)}".strip()


def one_of(measure: str, value: Decimal | float) -> str:
    """The unit of so many."""
    words = UNITS.get(Measure(measure), "") if measure else ""
    return words[:-1] if value == 1 and words.endswith("s") else words


def sessions_words(sessions: int | None, sessions_of: int | None) -> str:
    """``in 3 sessions in a row``, ``in 3 of 4 sessions``; empty for one."""
    if sessions_of:
        return f"in {sessions} of {sessions_of} sessions"
    return f"in {sessions} sessions in a row" if sessions and sessions > 1 else ""


def bound_words(wanted: str) -> str:
    """``at least`` or ``at most``."""
    return "at least" if wanted == Wanted.MORE else "at most"


def reading_words(reading: GoalReading) -> str:
    """What a goal's text is read as, in one line."""
    levels = PROMPT_LEVELS if reading.measure is Measure.PROMPT else ()
    figure = figure_words(
        reading.measure, reading.criterion, trials=reading.trials, unit=reading.distance_unit, levels=levels
    )
    of = f" of {reading.level_count}" if reading.level_count else ""
    parts = [f"{bound_words(reading.wanted)} {figure}{of}", sessions_words(reading.sessions, reading.sessions_of)]
    if reading.baseline is not None:
        parts.append(f"from {number_words(reading.baseline)}")
    return ", ".join(part for part in parts if part)


def too_few_words(wanted: int, one: str = "day with data", several: str = "days with data") -> str:
    """How many more are wanted."""
    thing = f"{one} is" if wanted == 1 else f"{several} are"
    return f"Too few data to say: {wanted} more {thing} wanted."


def trend_words(trend: Trend | TooFew, unit: str) -> str:
    """Which way the data go, how fast a week, and between which figures that lies."""
    if isinstance(trend, TooFew):
        return too_few_words(trend.wanted)
    low, high = 7 * trend.low, 7 * trend.high
    between = f"between {signed(low)} and {signed(high)}"
    if not trend.says_direction:
        return f"No clear direction: the change a week lies {between} {unit}."
    way = "Rising" if trend.slope > 0 else "Falling"
    return f"{way} by about {number_words(abs(trend.a_week))} {unit} a week ({between})."


def signed(value: float) -> str:
    """With a minus sign that reads well."""
    told = number_words(value)
    return f"\u2212{told[1:]}" if told.startswith("-") else told


def reached_words(reached: ReachDay, end: dt.date) -> str:
    """When the criterion is reached at this rate, and how sure that is."""
    by = date_words(end)
    if reached.chance is HowSure.THERE:
        return "The trend is at the criterion."
    if reached.expected is None:
        return f"At this rate the criterion isn't reached by {by}."
    about = f"At this rate the criterion is reached about {date_words(reached.expected)}"
    if reached.earliest is None or reached.latest is None:
        first = f", at the earliest {date_words(reached.earliest)}" if reached.earliest else ""
        about += f"{first}, or not at all: the data leave that open"
    else:
        about += f", between {date_words(reached.earliest)} and {date_words(reached.latest)}"
    sure = {
        HowSure.LIKELY: f"All of that is by {by}.",
        HowSure.OPEN: f"Whether by {by} isn't clear.",
        HowSure.UNLIKELY: f"All of that is after {by}.",
    }
    return f"{about}. {sure[reached.chance]}"


def decision_words(rule: DecisionRule, decision: Decision) -> str:
    """How the last points lie to the aim line, and what is commonly asked then; no verdict."""
    by_day = rule is DecisionRule.THREE_DAYS
    if decision.lie is Lie.TOO_FEW:
        return too_few_words(decision.wanted) if by_day else too_few_words(decision.wanted, "point", "points")
    last = f"The last {'three days' if by_day else 'four points'}"
    if decision.lie is Lie.AROUND:
        return f"{last} lie on both sides of the aim line."
    if decision.lie is Lie.BETTER:
        return f"{last} all lie beyond the aim line. It is common then to ask whether the goal asks for enough."
    return f"{last} all lie short of the aim line. It is common then to ask what about the teaching could change."


def met_words(day: dt.date, sessions: str) -> str:
    """When the criterion was reached; what follows from it the team says."""
    often = f" {sessions}" if sessions else ""
    return f"The criterion was reached{often} by {date_words(day)}. Whether the goal is met, the team decides."
