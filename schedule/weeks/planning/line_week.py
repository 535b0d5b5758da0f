"""A service line in one week: what it owes, and where the student is on each of its dates."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from caseload.delivery.in_force import is_in_force
from caseload.plans.models import Enrollment, SchoolClass, ServiceLine, enrollment_nearest
from schedule.weeks.planning.quotas import Owed
from travel.places.models import Building, Space


@dataclass(frozen=True, slots=True)
class LineWeek:
    """A service line in one week: what it owes, and where the student is on each date, Monday to Sunday."""

    line: ServiceLine
    owed: Owed
    places: Mapping[dt.date, Enrollment]

    @property
    def code(self) -> str:
        """The student's code."""
        return self.line.plan.student.code

    @property
    def place(self) -> Enrollment:
        """Where the student is on the first date of the week on which the line is owed."""
        owed = (place for date, place in self.places.items() if self.active_on(date))
        return next(owed, self.places[min(self.places)])

    @property
    def building(self) -> Building:
        """That building."""
        return self.place.building

    @property
    def home_class(self) -> SchoolClass | None:
        """The student's class there."""
        return self.place.home_class

    @property
    def elsewhere(self) -> tuple[int, int]:
        """The space of another building where it is held and minutes on the way; zeros at the student's school."""
        space = self.held_elsewhere
        return (space.pk, self.line.way_minutes) if space is not None else (0, 0)

    @property
    def held_elsewhere(self) -> Space | None:
        """The space of another building where it is held; None once the student is at school in that building."""
        space = self.line.held_in
        return space if space is not None and space.building_id != self.building.pk else None

    @property
    def held_at(self) -> tuple[int, int | None]:
        """The building where it is held, and the students' own, if that is another one."""
        space, own = self.held_elsewhere, self.building.pk
        return (space.building_id, own) if space is not None else (own, None)

    @property
    def spaces_named(self) -> tuple[Space, ...]:
        """The spaces of the student's school that the line names."""
        held = self.line.held_in
        return (*self.line.allowed_spaces.all(), *([held] if held is not None else ()))

    def active_on(self, date: dt.date) -> bool:
        """Whether the line is owed on that date."""
        return is_in_force(self.line, date) and (self.owed.dates is None or date in self.owed.dates)

    def joins_on(self, date: dt.date, other: "LineWeek") -> bool:
        """Whether it is owed on that date in the other line's building."""
        same = self.places[date].building_id == other.places[date].building_id
        return self.active_on(date) and same and self.elsewhere == other.elsewhere


def grades_of(members: Iterable[LineWeek]) -> frozenset[str]:
    """The grades of a unit's students: by which rotation of a building its days are named."""
    return frozenset(one.place.grade for one in members)


def line_week(line: ServiceLine, owed: Owed, monday: dt.date) -> LineWeek:
    """A line in the week of a Monday."""
    dates = [monday + dt.timedelta(days=offset) for offset in range(7)]
    student = line.plan.student
    return LineWeek(line, owed, {date: enrollment_nearest(student, date, line.building_id) for date in dates})
