"""The days in session and the turns of a rotation that one service of a student goes by.

Each day goes by the calendar of the building where the student is on it, so that a move changes nothing before it.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from accounts.dates import span_words
from caseload.ledger.terms import Span
from caseload.plans.enrollments import (
    ONE_DAY,
    Stay,
    days_where_the_student_is,
    school_days_around,
    stretches_of,
)
from schedule.calendar.selectors.school_days import BuildingCalendar

USUAL_TURN = 5
"""School days of a turn where nobody says how many. Common practice, no source."""

type Turn = tuple[dt.date, ...]


@dataclass(frozen=True, slots=True)
class StudentDays:
    """Calendars by building, where the student is, the building that the service names, if any, and the year."""

    calendars: Mapping[int, BuildingCalendar]
    stays: tuple[Stay, ...]
    building_id: int | None
    year: Span

    def in_session(self) -> frozenset[dt.date]:
        """The days in session; days away go by the nearest building."""
        return school_days_around(self.stays, self._open_days(), self.building_id) if self.stays else frozenset()

    def _open_days(self) -> dict[int, frozenset[dt.date]]:
        return {place: self.calendars[place].open_dates for place in self.places}

    def attended(self) -> frozenset[dt.date]:
        """The days in session on which the student is enrolled."""
        return days_where_the_student_is(self.stays, self._open_days(), self.building_id)

    def cycles(self, days: int | None, begins: dt.date) -> tuple[Span, ...]:
        """Turns of so many days: the buildings' own; where none has such, so many school days from a first day.

        Each lasts until the day before the next, so that a session on a day that was closed afterward has its turn.
        A turn in which the student moves is finished by the old building's days; the first of the new building is
        the next that begins there.
        """
        turns = self.own_turns(days) or self._counted(days, begins)
        starts = [turn[0] for turn in turns]
        ends = [start - ONE_DAY for start in starts[1:]] + [self.year.last]
        return tuple(
            Span(f"cycle from {span_words(start, turn[-1])}", start, end)
            for start, end, turn in zip(starts, ends, turns, strict=True)
        )

    @property
    def places(self) -> frozenset[int]:
        """The buildings that it is about."""
        return frozenset(stay.building_id for stay in self.stays)

    def own_turns(self, days: int | None = None) -> list[Turn]:
        """The buildings' own turns, of this length where one is named, one building after the other."""
        found: list[Turn] = []
        left: dt.date | None = None
        for place, first, last in stretches_of(self.stays, self.year.first, self.year.last, self.building_id):
            moved = left == first - ONE_DAY
            for turn in self._of_length(place, self._grade_at(place, first), days):
                begins = turn[0] if moved else turn[-1]
                if begins >= first and turn[0] <= last and not (found and turn[0] <= found[-1][0]):
                    found.append(turn)
            left = last
        return found

    def _grade_at(self, place: int, day: dt.date) -> str:
        """The grade in which the student is there on a day, or next after it; empty where nobody says."""
        there = sorted((one for one in self.stays if one.building_id == place), key=lambda one: one.begins)
        return next((one.grade for one in there if one.ends >= day), "")

    def _of_length(self, place: int, grade: str, days: int | None) -> Sequence[Turn]:
        turns = self.calendars[place].cycles(grade)
        return turns if turns and days in {None, max(len(turn) for turn in turns)} else ()

    def _counted(self, days: int | None, begins: dt.date) -> list[Turn]:
        rest = sorted(day for day in self.attended() if day >= begins)
        size = days or USUAL_TURN
        return [tuple(rest[at : at + size]) for at in range(0, len(rest), size)]
