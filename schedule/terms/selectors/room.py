"""One week of a term as it is loaded to see what fits into it: with one session of every service shared out."""

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from schedule.planner.problem import Service
from schedule.terms.allotment.question import RoomWeek
from schedule.terms.allotment.reading import room_week
from schedule.weeks.planning.assemble import WeekInput


@dataclass(frozen=True, slots=True)
class TermRoom:
    """A week loaded with one session of each service that is shared out."""

    loaded: WeekInput
    unit_of: Mapping[int, str]
    riding: Mapping[str, int]
    shared_out: frozenset[str]

    @classmethod
    def of(cls, loaded: WeekInput, shared: Collection[int]) -> "TermRoom":
        """``shared``: lines that are shared out."""
        unit_of = loaded.units.unit_of_line()
        own: dict[str, list[int]] = {unit: [] for unit in unit_of.values()}
        for line, unit in unit_of.items():
            if line not in shared:
                own[unit].append(loaded.lines[line].owed.sessions)
        return cls(
            loaded,
            unit_of,
            {unit: max(counts) for unit, counts in own.items() if counts},
            frozenset(unit for unit, counts in own.items() if not counts),
        )

    @property
    def room(self) -> RoomWeek:
        """What is free in it."""
        return room_week(self.loaded.monday, self.loaded.problem, self.shared_out, self.riding)

    def service(self, line: int) -> Service | None:
        """Where the line fits in this week; ``None`` where it isn't owed or has no moment at all."""
        unit = self.unit_of.get(line)
        found = next((one for one in self.loaded.problem.services if one.id == unit), None)
        return found if found is not None and found.starts else None

    def weekly(self, unit: str) -> Service | None:
        """A service that the week owes by itself; ``None`` where it has no moment."""
        found = next((one for one in self.loaded.problem.services if one.id == unit), None)
        return found if found is not None and found.starts and unit in self.riding else None

    def label(self, line: int) -> str:
        """What is taught as one with the line: a class, or the student's marked code."""
        return self.loaded.info(self.unit_of[line]).label

    def lines_in(self, unit: str) -> list[int]:
        """The lines of a service."""
        return sorted(line for line, one in self.unit_of.items() if one == unit)

    @property
    def dates(self) -> frozenset[dt.date]:
        """Monday to Sunday."""
        return frozenset(self.loaded.monday + dt.timedelta(days=n) for n in range(7))
