"""When a student usually is seen, and which services have no usual time: by week, said by dates. Pure."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

WEEK = dt.timedelta(weeks=1)
FEWEST_WEEKS = 2
"""What is owed in fewer weeks without a usual time is an exception of these."""


@dataclass(frozen=True, slots=True)
class UsualTimeView:
    """A usual time of a student in the timetables in force: "Tuesdays 9:30", where, with whom.

    ``since``: the Monday of its first week, where that is still to come; ``until``: its last day.
    """

    when: str
    end: dt.time
    building_name: str
    space_name: str
    setting_label: str
    teacher_name: str
    since: dt.date | None
    until: dt.date


@dataclass(frozen=True, slots=True)
class NoUsualTimeView:
    """A service that the timetable in force doesn't have, and the Monday of the first week of that."""

    statement: str
    teacher_id: int
    since: dt.date


def runs_of[T](weeks: Mapping[dt.date, Collection[T]]) -> dict[T, list[tuple[dt.date, dt.date]]]:
    """Of each thing the weeks that have it as runs without a gap: the first Monday and the last."""
    found: dict[T, list[tuple[dt.date, dt.date]]] = {}
    for monday in sorted(weeks):
        for one in weeks[monday]:
            runs = found.setdefault(one, [])
            if runs and runs[-1][1] + WEEK == monday:
                runs[-1] = (runs[-1][0], monday)
            else:
                runs.append((monday, monday))
    return found


def first_without(weeks: Collection[dt.date]) -> dt.date | None:
    """The first of the weeks that owe a service and have no time for it; none if these are too few."""
    return min(weeks) if len(weeks) >= FEWEST_WEEKS else None
