"""Whose supports, cautions and contacts were read in answering one request: noted where they are read.

Outside of `seen_collected` nothing is noted, as in a job or on a terminal.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_seen: ContextVar[set[int] | None] = ContextVar("care_seen", default=None)


def seen_note(students: Iterable[int]) -> None:
    """Note that what is written about the care of these students, by id, was read."""
    found = _seen.get()
    if found is not None:
        found.update(students)


@contextmanager
def seen_collected() -> Iterator[set[int]]:
    """The students of whom something is read inside, in a set that fills meanwhile."""
    found: set[int] = set()
    token = _seen.set(found)
    try:
        yield found
    finally:
        _seen.reset(token)
