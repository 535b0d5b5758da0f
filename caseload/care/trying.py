"""What to try first with a student who came without a plan, and what is written of it.

The suggestions are common practice among teachers, from no source; none of them is advice for a particular student.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

SUGGESTIONS: Mapping[str, tuple[str, ...]] = {
    "calms": (
        "A quiet place by the wall, in sight of the group",
        "The same first minute every time",
        "Slow rolling of a ball back and forth",
    ),
    "draws": (
        "Music for as long as the activity lasts",
        "A ball of the favorite color",
        "Going second, after a friend",
    ),
    "ask": ("Show it once, say nothing", "Two pictures to choose from", "First this, then that"),
    "steps": ("One step at a time", "Two steps, shown together", "A countdown on the fingers to the end"),
    "avoid": ("Being touched from behind", "A whistle nearby", "Waiting in line longer than a minute"),
}

PROVISIONAL = "Tried here, no plan yet"
"""The source of supports that were made of what was tried."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One thing that was tried. `label`: what was to be found out; `outcome`: what came of it, in words."""

    label: str
    text: str
    outcome: str
    seen: str
    seen_on: dt.date | None
    counts: bool


def support_text(one: Tried) -> str:
    """A provisional support in words: what to do, and what was seen."""
    said = f"{one.label}: {one.text}"
    seen = one.seen.strip().rstrip(".")
    return f"{said} (seen: {seen})" if seen else said


def question_to_team(called: str, tried: Sequence[Tried], asked_by: str) -> str:
    """A letter to the team that knows the student: what was seen, and what is asked. `called`: the initials."""
    found = [one for one in tried if one.counts]
    lines = [
        f"About {called}, who came to physical education before the plan did.",
        "",
        *(_seen_lines(found) or ["Nothing has been tried yet."]),
        "",
        "Please tell me:",
        "- What medical, physical or behavioral must I know before the next lesson, and whom do I ask?",
        "- What calms and what draws this student in the classroom, and which cues work there?",
        "- Does anything above go against what you know?",
        "",
        "Until I hear from you this stays provisional.",
        asked_by,
    ]
    return "\n".join(lines)


def _seen_lines(found: Iterable[Tried]) -> list[str]:
    lines = [f"- {support_text(one)}: {one.outcome.lower()}" for one in found]
    return ["What I have seen so far:", *lines] if lines else []
