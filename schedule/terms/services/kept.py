"""What a term's run has found so far, kept with its row: one that is interrupted goes on from there.

Kept are the ways to change the timetable in force, the timetable once it is settled, and each week's answer.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from schedule.planner.jsonform import dataclass_to_json, from_json
from schedule.planner.term.memory import TermMemory, memory_from_json
from schedule.terms.changing import Changed
from schedule.weeks.services.kept import WRITE_AGAIN, Write


@dataclass(slots=True)
class TermKept:
    """What is kept, and when it was written last. ``clock`` gives seconds."""

    write: Write
    changed: tuple[Changed, ...] | None = None
    memory: TermMemory = field(default_factory=TermMemory)
    clock: Callable[[], float] = monotonic
    _begun: float = 0.0
    _written: float = float("-inf")
    _is_new: bool = False

    @classmethod
    def of(cls, write: Write, kept: Mapping[str, Any]) -> "TermKept":
        """From what a run's row holds; nothing where it is begun for the first time."""
        found = cls(write)
        if kept:
            changed = kept["changed"]
            found.changed = None if changed is None else tuple(from_json(Changed, one) for one in changed)
            found.memory = memory_from_json(kept["memory"])
        found.memory.told = found.news
        return found

    def begin(self) -> None:
        """The search begins, or goes on."""
        self._begun = self.clock() - self.memory.had

    def change(self, changed: tuple[Changed, ...]) -> None:
        """The ways to change the timetable in force are known; none where there is none."""
        self.changed = changed
        self.news()

    def news(self) -> None:
        """Something was found: it is written, soon."""
        self._is_new = True
        self.tick()

    def tick(self) -> None:
        """Write what is new, if it isn't too early for that."""
        if self._is_new and self.clock() - self._written >= WRITE_AGAIN:
            self._is_new = not self.write(self._as_json())
            self._written = self.clock()

    def _as_json(self) -> dict[str, Any]:
        seconds = self.clock() - self._begun if self._begun else self.memory.had
        changed = None if self.changed is None else [dataclass_to_json(one) for one in self.changed]
        return {"changed": changed, "memory": self.memory.as_json(seconds)}
