"""A teacher's load: hours against the contract, full-time equivalent, caseload points, preparation. Pure.

Integer minutes; shares are exact fractions. States and contracts differ: limits come in as arguments.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class WorkloadWeek:
    """What a week of an itinerant teacher is made of, in minutes.

    `support` is what keeps the services going: preparation, meetings, assessment, records.
    """

    direct: int
    consultation: int
    support: int
    travel: int

    @property
    def total(self) -> int:
        """All of it."""
        return self.direct + self.consultation + self.support + self.travel

    def over(self, contract: int) -> int:
        """Minutes above the contract's; negative: room left."""
        return self.total - contract


def full_time_equivalent(day: Fraction, week: Fraction, year: Fraction = Fraction(1)) -> Fraction:
    """The share of a full position: of the day, of the week's days, and of the year's weeks."""
    return day * week * year


@dataclass(frozen=True, slots=True)
class Points:
    """Students of one kind and what each of them counts for."""

    students: int
    each: Fraction


def caseload_points(several: Iterable[Points]) -> Fraction:
    """Points of a whole caseload."""
    return sum((one.students * one.each for one in several), Fraction(0))


def preparation_counted(blocks: Sequence[int], smallest: int) -> int:
    """Minutes of preparation in blocks of at least `smallest`; shorter ones don't count."""
    return sum(block for block in blocks if block >= smallest)


def preparation_owed(instruction: int, *, minutes: int, for_each: int) -> int:
    """So many minutes of preparation for each so many of instruction, in proportion (rounded up)."""
    return -(-instruction * minutes // for_each)
