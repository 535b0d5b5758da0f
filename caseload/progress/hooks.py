"""What rooms above tell of a goal: in which part of a lesson and at which station it is practiced.

They register themselves when the application starts (schedule.apps).
"""

from collections.abc import Callable
from dataclasses import dataclass

from accounts.models import Person
from caseload.progress.models import StudentGoal


@dataclass(frozen=True, slots=True)
class Practice:
    """Where a goal is practiced: `kind` such as Station, its name, and the page's address."""

    kind: str
    name: str
    address: str


type PracticeSource = Callable[[Person, StudentGoal], list[Practice]]
"""Of whoever looks and a goal that they may see."""

_sources: list[PracticeSource] = []


def practice_add(source: PracticeSource) -> None:
    """Register who knows; twice has no effect."""
    if source not in _sources:
        _sources.append(source)


def practice_of(viewer: Person, goal: StudentGoal) -> list[Practice]:
    """Everywhere that the goal is practiced, as far as the viewer may see it."""
    return [one for source in _sources for one in source(viewer, goal)]
