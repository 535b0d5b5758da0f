"""Which students were read in answering one request: noted where a student is loaded, or called by name (`names`).

Outside of `shown_collected` nothing is noted, as in a job or on a terminal. More may be noted than stands in the
answer, never less: what is shown was read. Pure.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class StudentsNoted:
    """Students, by id, who are noted while a block runs in which they are collected; outside of one nobody is."""

    def __init__(self, name: str) -> None:
        self._found: ContextVar[set[int] | None] = ContextVar(name, default=None)

    def note(self, students: Iterable[int]) -> None:
        """Note them."""
        found = self._found.get()
        if found is not None:
            found.update(students)

    def so_far(self) -> frozenset[int]:
        """Who is noted up to here."""
        return frozenset(self._found.get() or ())

    @contextmanager
    def collected(self) -> Iterator[set[int]]:
        """Those who are noted inside, in a set that fills meanwhile."""
        found: set[int] = set()
        token = self._found.set(found)
        try:
            yield found
        finally:
            self._found.reset(token)


_shown = StudentsNoted("students_shown")
shown_collected = _shown.collected


def shown_note(student: int) -> None:
    """Note that a student, by id, was read."""
    _shown.note((student,))


def shown_so_far() -> frozenset[int]:
    """Who was read up to here in answering a request; nobody outside of one."""
    return _shown.so_far()
