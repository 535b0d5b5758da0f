"""A service line in one week: what it owes, and where the student is on each of its dates."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from caseload.delivery.in_force import is_in_force
from caseload.plans.models import Enrollment, SchoolClass, ServiceLine, enrollment_nearest
from schedule.weeks.planning.quotas import Owed
from travel.places.models import Building


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

    def active_on(self, date: dt.date) -> bool:
        """Whether the line is owed on that date."""
        return is_in_force(self.line, date) and (self.owed.dates is None or date in self.owed.dates)

    def joins_on(self, date: dt.date, other: "LineWeek") -> bool:
        """Whether it is owed on that date in the other line's building."""
        return self.active_on(date) and self.places[date].building_id == other.places[date].building_id


def line_week(line: ServiceLine, owed: Owed, monday: dt.date) -> LineWeek:
    """A line in the week of a Monday."""
    dates = [monday + dt.timedelta(days=offset) for offset in range(7)]
    student = line.plan.student
    return LineWeek(line, owed, {date: enrollment_nearest(student, date, line.building_id) for date in dates})
