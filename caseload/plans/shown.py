"""Which students were read in answering one request: noted where a student is loaded or called by name.

Outside of `shown_collected` nothing is noted, as in a job or on a terminal. More may be noted than stands in the
answer, never less: what is shown was read. Pure.
"""

from collections.abc import Iterable, Iterator, Mapping
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


class ToldWords[Key](dict[Key, str]):
    """Words by student, or by a student's code: who is called by them is noted."""

    def __init__(self, words: Mapping[Key, str], ids: Mapping[Key, int]) -> None:
        super().__init__(words)
        self._ids = ids

    def __getitem__(self, key: Key) -> str:
        """The words."""
        if key in self._ids:
            shown_note(self._ids[key])
        return super().__getitem__(key)

    def get(self, key: Key, default: str | None = None) -> str | None:  # type: ignore[override]  # one of its two forms
        """The words, or what is said without."""
        try:
            return self[key]
        except KeyError:
            return default
