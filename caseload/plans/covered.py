"""Whose students are in sessions that somebody stands in for: the floor above knows sessions, and says it here.

It registers who knows when the application starts (schedule.apps); without it nobody is in any.
"""

import datetime as dt
from collections.abc import Callable

from django.db.models import Q

from accounts.models import Person

type Covered = Callable[[Person, dt.date], Q]
"""By a substitute and the day on which is asked, a condition on students."""

_known: list[Covered] = []


def covered_add(covered: Covered) -> None:
    """Register who knows; a second time replaces the first."""
    _known[:] = [covered]


def in_covered_sessions(substitute: Person, day: dt.date) -> Q:
    """A condition on students: those in sessions that a substitute stands in for, on a day of the substitution."""
    return _known[0](substitute, day) if _known else Q(pk__in=())
