"""Which students of one building could be taken together, and when.

Pure. A group is tried only where every line allows it: the same minutes, grades near enough, no more students than
the smallest limit among them. The number of possible groups doubles with every student, so above a limit only
neighbors in the order of grades are tried; the caller says so to the teacher.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import comb

from caseload.plans.grades import GRADES
from schedule.planner.problem import Start

MOST_GROUPS = 60
"""Groups tried in one building for sessions of one length; above that, neighbors by grade only."""


@dataclass(frozen=True, slots=True)
class Joinable:
    """A service line that may be taken with others: its service id, student, grade, and most students at a time."""

    service: str
    student: str
    grade: str
    largest: int

    @property
    def rank(self) -> tuple[int, str, str]:
        """Order of grade, then of code: neighbors in it are the likeliest group."""
        return GRADES.index(self.grade), self.student, self.service


@dataclass(frozen=True, slots=True)
class GroupChoice:
    """Groups to try, as tuples of service ids in order of grade; ``possible`` is how many there would be."""

    groups: tuple[tuple[str, ...], ...]
    possible: int

    @property
    def narrowed(self) -> bool:
        """Whether some possible groups are left untried."""
        return len(self.groups) < self.possible


def _count(lines: int, size: int) -> int:
    """How many groups of two to `size` there are."""
    return sum(comb(lines, n) for n in range(2, size + 1))


def choose_groups(
    lines: Sequence[Joinable], *, largest: int, grades_apart: int, most: int = MOST_GROUPS
) -> GroupChoice:
    """Groups of two and more that the lines' limits, the teacher's `largest` and `grades_apart` allow."""
    ordered = sorted(lines, key=lambda line: line.rank)
    size = min(len(ordered), largest, max((line.largest for line in ordered), default=0))
    counted = _count(len(ordered), size)
    if counted <= 50 * most:
        allowed = [group for group in _all(ordered, size) if _allowed(group, grades_apart)]
        if len(allowed) <= most:
            return GroupChoice(tuple(_ids(group) for group in allowed), len(allowed))
        counted = len(allowed)
    near = [group for group in _neighbors(ordered, size) if _allowed(group, grades_apart)]
    return GroupChoice(tuple(_ids(group) for group in near), max(counted, len(near) + 1))


def _all(ordered: Sequence[Joinable], size: int) -> Iterator[tuple[Joinable, ...]]:
    for number in range(2, size + 1):
        yield from combinations(ordered, number)


def _neighbors(ordered: Sequence[Joinable], size: int) -> Iterator[tuple[Joinable, ...]]:
    for number in range(2, size + 1):
        for first in range(len(ordered) - number + 1):
            yield tuple(ordered[first : first + number])


def _allowed(group: Sequence[Joinable], grades_apart: int) -> bool:
    grades = [GRADES.index(line.grade) for line in group]
    students = {line.student for line in group}
    limit = min(line.largest for line in group)
    return len(students) == len(group) <= limit and max(grades) - min(grades) <= grades_apart


def _ids(group: Sequence[Joinable]) -> tuple[str, ...]:
    return tuple(line.service for line in group)


def common_starts(members: Sequence[str], starts: Mapping[str, Sequence[Start]]) -> tuple[Start, ...]:
    """The starts that every member has: same day, minute, place and space."""
    first, *others = (starts[member] for member in members)
    shared = [{(s.day, s.at, s.place, s.space) for s in other} for other in others]
    return tuple(s for s in first if all((s.day, s.at, s.place, s.space) in known for known in shared))


def in_chunks[T](members: Sequence[T], limit: int) -> tuple[tuple[T, ...], ...]:
    """Members split into as few and as equal parts as the limit allows, in their order."""
    if not members:
        return ()
    parts = -(-len(members) // max(1, limit))
    size, longer = divmod(len(members), parts)
    cuts = [0]
    for number in range(parts):
        cuts.append(cuts[-1] + size + (number < longer))
    return tuple(tuple(members[a:b]) for a, b in pairwise(cuts))
