"""Words of advice on a routine. Common practice of teachers, no source and no rule: each can be left unheeded.

Pure. Lengths in minutes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

SHORT_ENDING = 2
"""Minutes under which an ending counts as cut short."""

COMMON_PRACTICE = "Common practice, not a rule:"


@dataclass(frozen=True, slots=True)
class AdvisedPart:
    """A part as the advice looks at it, with its length on that day."""

    title: str
    minutes: int
    is_loud: bool
    is_known: bool
    is_far_apart: bool


@dataclass(frozen=True, slots=True)
class AdvisedClass:
    """What is known of the class. `attention`: minutes that it stays with one thing, as its teacher set them.

    `ends_shorter`: by how many minutes the last part is shorter than usual. `leaves_the_room`: whether a student of
    it tends to.
    """

    attention: int | None = None
    ends_shorter: int = 0
    ending_fell_out: bool = False
    leaves_the_room: bool = False


def advice_on(parts: Sequence[AdvisedPart], of: AdvisedClass) -> tuple[str, ...]:
    """What a colleague might say, in sentences; nothing where nothing is to be said."""
    if not parts:
        return ()
    said = [*_attention(parts, of), *_ending(parts, of), *_far_apart(parts, of), *_loud(parts), *_known(parts)]
    return tuple(said)


def _attention(parts: Sequence[AdvisedPart], of: AdvisedClass) -> list[str]:
    if of.attention is None:
        return []
    long = [part for part in parts if part.minutes > of.attention]
    said = [
        f"“{part.title}” takes {part.minutes} minutes; this class stays with one thing for about {of.attention}. "
        "A change within it may help."
        for part in long
    ]
    minutes, changes = sum(part.minutes for part in parts), len(parts) - 1
    if changes and minutes < changes * of.attention / 2:
        said.append(
            f"{changes} changes in {minutes} minutes are many for a class that stays with one thing for about "
            f"{of.attention}. Each change costs time, too."
        )
    return said


def _ending(parts: Sequence[AdvisedPart], of: AdvisedClass) -> list[str]:
    if of.ending_fell_out:
        return ["The usual ending falls out. Many classes leave more easily by the ending that they know."]
    last = parts[-1]
    if of.ends_shorter and last.minutes <= SHORT_ENDING:
        return [f"The ending “{last.title}” is cut to {last.minutes} minutes. Cut earlier, and it stays whole."]
    return []


def _far_apart(parts: Sequence[AdvisedPart], of: AdvisedClass) -> list[str]:
    if not of.leaves_the_room:
        return []
    return [
        f"“{part.title}” is spread out, and a student here tends to leave the room. Nearer together, or an adult "
        "by the door, may help; the student's plan says what holds."
        for part in parts
        if part.is_far_apart
    ]


def _loud(parts: Sequence[AdvisedPart]) -> list[str]:
    return [
        f"“{one.title}” and “{next_one.title}” are both loud, one after the other. A quiet part between may help."
        for one, next_one in pairwise(parts)
        if one.is_loud and next_one.is_loud
    ]


def _known(parts: Sequence[AdvisedPart]) -> list[str]:
    if any(part.is_known for part in parts):
        return []
    return ["Nothing here is marked as known to the class. Something familiar at the start or the end may help."]
