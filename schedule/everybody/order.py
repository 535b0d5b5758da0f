"""Who is planned after whom. Pure.

Teachers who share a student, a class or a space are planned one after the other, each around the drafts of those
before. Whoever shares nothing with anybody under way can be planned at the same moment. The order is fixed before
anything is planned, so how many workers there are decides when a week is planned, and not how.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Sharer:
    """A teacher with what the week needs. ``keys``: students, classes and spaces, by any names that are alike."""

    teacher: int
    name: str
    students: int
    keys: frozenset[str] = field(default_factory=frozenset)

    def shares_with(self, other: "Sharer") -> bool:
        """Whether anything is needed by both."""
        return not self.keys.isdisjoint(other.keys)


@dataclass(frozen=True, slots=True)
class Turn:
    """A teacher's turn; ``after``: the teachers whose turns come to an end before."""

    teacher: int
    after: tuple[int, ...] = ()


def turns_of(sharers: Iterable[Sharer]) -> tuple[Turn, ...]:
    """The turns in their order.

    Whoever has most students chooses first, since a full week has the least choice: each the first round in which
    nobody is with whom anything is shared. So two rounds do where each shares with a neighbor or two, and few
    teachers wait for many (a greedy coloring in the order of Welsh and Powell 1967, theirs by degrees).
    """
    ordered = sorted(sharers, key=lambda one: (-one.students, one.name, one.teacher))
    rounds: list[list[Sharer]] = []
    for one in ordered:
        free = (each for each in rounds if not any(one.shares_with(other) for other in each))
        found = next(free, None)
        if found is None:
            rounds.append([one])
        else:
            found.append(one)
    before: list[Sharer] = []
    turns: list[Turn] = []
    for each in rounds:
        turns += [Turn(one.teacher, tuple(o.teacher for o in before if o.shares_with(one))) for one in each]
        before += each
    return tuple(turns)
