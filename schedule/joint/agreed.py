"""What two teachers agreed to give a student together, seen from one of the two services. Pure."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GivenTogether:
    """Sessions of a service that are given together with those of another teacher's.

    ``times``: how many a week; ``None``: each that both services have in a week.
    """

    service: int
    partner: int
    first: dt.date
    last: dt.date | None = None
    times: int | None = None

    def holds_on(self, date: dt.date) -> bool:
        """Whether it is in force on a date."""
        return self.first <= date and (self.last is None or date <= self.last)

    def most(self, mine: int, theirs: int) -> int:
        """How many are given together in a week in which the two services have so many sessions."""
        return min(mine, theirs, mine if self.times is None else self.times)


type AgreedByService = Mapping[int, tuple[GivenTogether, ...]]
"""By service, from its side; each agreement stands at both of its services."""
