"""Make-ups among a week's services: each is a service of its own, under a key that says so.

It is for one line, or for the lines of a group that is offered again as a group.
"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from schedule.weeks.versions.content import SessionContent

_KEY = re.compile(r"^make-up-(\d+(?:\+\d+)*)-(\d+)$")


@dataclass(frozen=True, slots=True, order=True)
class MakeUp:
    """A session of so many minutes that makes up for minutes owed on each of these service lines."""

    lines: tuple[int, ...]
    minutes: int


def make_up_key(one: MakeUp) -> str:
    """The planner's id of a make-up."""
    return f"make-up-{'+'.join(str(line) for line in one.lines)}-{one.minutes}"


def make_up_of(key: str) -> MakeUp | None:
    """The make-up of a planner's id; ``None`` for any other id."""
    match = _KEY.match(key)
    return MakeUp(tuple(int(line) for line in match[1].split("+")), int(match[2])) if match else None


def is_make_up(key: str) -> bool:
    """Whether a planner's id is that of a make-up."""
    return make_up_of(key) is not None


def make_ups_of(sessions: Iterable[SessionContent]) -> Counter[MakeUp]:
    """The make-ups among sessions, and how many of each."""
    found = (make_up_of(one.key) for one in sessions if one.makes_up)
    return Counter(one for one in found if one is not None)
