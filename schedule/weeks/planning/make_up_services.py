"""Make-ups among a week's services: each is a service of its own for one line, under a key that says so."""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from schedule.weeks.versions.content import SessionContent

_KEY = re.compile(r"^make-up-(\d+)-(\d+)$")


@dataclass(frozen=True, slots=True, order=True)
class MakeUp:
    """A session of so many minutes that makes up for minutes owed on a service line."""

    line: int
    minutes: int


def make_up_key(one: MakeUp) -> str:
    """The planner's id of a make-up."""
    return f"make-up-{one.line}-{one.minutes}"


def make_up_of(key: str) -> MakeUp | None:
    """The make-up of a planner's id; ``None`` for any other id."""
    match = _KEY.match(key)
    return MakeUp(int(match[1]), int(match[2])) if match else None


def is_make_up(key: str) -> bool:
    """Whether a planner's id is that of a make-up."""
    return make_up_of(key) is not None


def make_ups_of(sessions: Iterable[SessionContent]) -> Counter[MakeUp]:
    """The make-ups among sessions, and how many of each."""
    found = (make_up_of(one.key) for one in sessions if one.makes_up)
    return Counter(one for one in found if one is not None)
