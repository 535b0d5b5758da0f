"""What this floor says to those above it about who covers whom; they listen when the application starts."""

import datetime as dt
from dataclasses import dataclass

from django.dispatch import Signal

from accounts.models import Person


@dataclass(frozen=True, slots=True)
class CoveredSpan:
    """Dates of a teacher on which somebody else stands in than before, or nobody anymore."""

    teacher: Person
    first: dt.date
    last: dt.date


substitution_changed = Signal()
"""Sent in the transaction in which a substitution was entered, changed or deleted under People; `spans`: of which
dates, before and after."""
