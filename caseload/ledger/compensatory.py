"""Time that a student's team decided to give for what wasn't given: an account of its own. Pure.

What a team decides on needn't be minute for minute, so it is never mixed with what a service owes (Reid v. District
of Columbia, 401 F.3d 516 (D.C. Cir. 2005): a qualitative standard; from memory).
"""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class CompensatoryAccount:
    """Minutes that a team decided on, and what was given of them up to `as_of` (included).

    `until` is the last day for them.
    """

    id: int
    minutes: int
    decided_by: str
    decided_on: date
    until: date
    as_of: date
    given: int
    note: str = ""

    @property
    def left(self) -> int:
        """Minutes that are still to be given."""
        return max(self.minutes - self.given, 0)

    @property
    def is_late(self) -> bool:
        """Whether minutes are left after the last day for them."""
        return self.left > 0 and self.as_of > self.until
