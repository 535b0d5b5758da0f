"""What the class hour, a room above, tells of stations; `schedule.apps` hands it down at the start."""

import datetime as dt
import uuid
from collections.abc import Callable

from accounts.models import Person

type StationsPart = Callable[[Person, Person, dt.date, uuid.UUID], tuple[int, int] | None]
"""Of viewer, teacher, date and session: when stations are on, in minutes after midnight, and for how many."""

_parts: list[StationsPart] = []


def stations_part_add(part: StationsPart) -> None:
    """Register who knows a session's routine. A second time replaces the first."""
    _parts[:] = [part]


def stations_part(viewer: Person, teacher: Person, date: dt.date, uid: uuid.UUID) -> tuple[int, int] | None:
    """The part of the session's routine that is stations; None where there is no routine, or it has none."""
    return next((found for ask in _parts if (found := ask(viewer, teacher, date, uid)) is not None), None)
