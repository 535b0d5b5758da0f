"""With whom somebody shares a caseload, from which day to which."""

import datetime as dt
from copy import copy
from dataclasses import dataclass
from typing import Protocol

from accounts.dates import is_within


@dataclass(frozen=True, slots=True)
class Mate:
    """Somebody whose students a teacher sees on the days of their team; `logs`: and may log their sessions."""

    person_id: int
    first_day: dt.date
    last_day: dt.date
    logs: bool

    def shares(self, day: dt.date) -> bool:
        """Whether a date is among the team's."""
        return is_within(day, self.first_day, self.last_day)


class HasMates(Protocol):
    """Whoever may share a caseload."""

    mates: tuple[Mate, ...]


def alone[P: HasMates](person: P) -> P:
    """The same person without mates: who sees what this person may change."""
    if not person.mates:
        return person
    found = copy(person)
    found.mates = ()
    return found
