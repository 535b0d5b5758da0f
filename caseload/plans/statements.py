"""How a statement is read when a service is saved: by its words, a person's choice, or as it was read before."""

from collections.abc import Iterable
from dataclasses import dataclass

from caseload.plans.frequency import (
    EXAMPLES,
    Frequency,
    FrequencyError,
    FrequencyQuestionError,
    FrequencyUnit,
    read_frequency,
    reading_words,
    things_words,
    write_frequency,
)

SHORTEST = 5
_EXAMPLES = f"Write it like “{EXAMPLES[0]}” or “{EXAMPLES[2]}”."


@dataclass(frozen=True, slots=True)
class Reading:
    """What a statement is read as; `chosen` by a person among two readings."""

    frequency: Frequency
    chosen: bool = False


def one_line(text: str) -> str:
    """A statement without line breaks and double spaces, as it is kept."""
    return " ".join(text.split())


def read_statement(
    text: str, marking_periods: int | None, *, wanted: str = "", kept: Reading | None = None
) -> Reading:
    """The reading of a statement; `wanted` is the canonical text of the one that a person chose.

    `kept` is how the same statement was read before. What a person chose stays; where it would be read otherwise
    today, both are asked. Raises `FrequencyError`, and `FrequencyQuestionError` while nothing is chosen.
    """
    try:
        readings = _readings(text, marking_periods)
    except FrequencyError:
        if kept is None or wanted:
            raise
        return kept
    if kept is not None:
        if not wanted and (kept.chosen or readings == [kept.frequency]):
            return kept
        readings = list(dict.fromkeys([kept.frequency, *readings]))
    return _chosen(text, readings, wanted)


def reading_doubt(text: str, marking_periods: int | None, kept: Reading) -> str:
    """What there is to ask about a statement that was read before; empty if nothing."""
    try:
        read_statement(text, marking_periods, kept=kept)
    except FrequencyQuestionError as error:
        return str(error)
    return ""


def _readings(text: str, marking_periods: int | None) -> list[Frequency]:
    """All readings that say enough to plan by. Raises FrequencyError if none does."""
    try:
        found: tuple[Frequency, ...] = (read_frequency(text, marking_periods),)
    except FrequencyQuestionError as error:
        found = error.readings
    complete = [one for one in found if not _lacks(one)]
    if not complete:
        raise FrequencyError(f"“{one_line(text)}” {_lacks(found[0])} {_EXAMPLES}")
    return complete


def _lacks(read: Frequency) -> str:
    """What a frequency leaves open that the planner would have to guess."""
    if read.times is not None and read.minutes is None:
        return "doesn't say how many minutes each time."
    if min(value for value in (read.minutes, read.minutes_total) if value is not None) < SHORTEST:
        return f"owes fewer than {SHORTEST} minutes. Check the number."
    if read.unit is FrequencyUnit.CYCLE and read.cycle_days is None:
        return "doesn't say how many days the cycle has."
    return ""


def _chosen(text: str, readings: list[Frequency], wanted: str) -> Reading:
    """The wanted reading, or the only one. Raises FrequencyError."""
    if wanted:
        found = next((one for one in readings if write_frequency(one) == wanted), None)
        if found is None:
            raise FrequencyError(f"“{one_line(text)}” isn't read as “{wanted}”, but as {_or_words(readings)}.")
        return Reading(found, chosen=len(readings) > 1)
    if len(readings) > 1:
        message = (
            f"“{one_line(text)}” can mean {things_words(len(readings))}: {_or_words(readings)}. "
            "Choose one, or write it so."
        )
        raise FrequencyQuestionError(message, readings)
    return Reading(readings[0])


def _or_words(readings: Iterable[Frequency]) -> str:
    return " or ".join(f"“{write_frequency(one)}”" for one in readings)


def reading_offers(readings: Iterable[Frequency]) -> list[dict[str, str]]:
    """Readings to choose from, each as its canonical text and in words."""
    return [{"reading": write_frequency(one), "words": reading_words(one)} for one in readings]
