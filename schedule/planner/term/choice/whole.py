"""A term planned by one timetable, whole, and which of several such terms is the better."""

from collections.abc import Sequence
from dataclasses import dataclass

from schedule.planner.term.departures import departures_of
from schedule.planner.term.expected import expected_in
from schedule.planner.term.kinds import Found, Least
from schedule.planner.term.term import LaterTimetable, PlannedWeek, StandingTimetable, TermWeek


@dataclass(frozen=True, slots=True)
class WholeTerm:
    """Timetables, each from a week on; for each week what stands in it, and the week planned against that."""

    timetables: tuple[LaterTimetable, ...]
    stands: tuple[StandingTimetable, ...]
    found: tuple[Found, ...]
    barred: int = 0
    """Sessions that their weeks can't begin at their time, though nothing about the day is unusual."""

    def value(self, worth: int) -> tuple[int, int, int, int]:
        """What is less the better: not placed, wishes missed, driving with ``worth`` for each usual time left.

        A timetable that takes the place of another within the term comes after one that stays, if both weigh alike.
        """
        figures = [one.figures for one in self.found]
        unplaced, wishes = sum(one.unplaced for one in figures), sum(one.wishes for one in figures)
        driving = sum(one.driving + worth * one.change for one in figures) + worth * self.barred
        return unplaced, wishes, driving, len(self.timetables)


def better(terms: Sequence[WholeTerm], worth: int) -> WholeTerm:
    """The best of them, the first of those that are alike."""
    return min(terms, key=lambda one: one.value(worth))


def planned_week(week: TermWeek, standing: StandingTimetable, found: Found, least: Least) -> PlannedWeek:
    """A week as it is answered: what departs from the timetable and why, and what is known of its driving."""
    expected = expected_in(week, standing)
    departures = departures_of(week, expected, found.plan, saving=found.saving)
    return PlannedWeek(
        week.id,
        found.plan,
        found.figures,
        departures,
        expected=len(expected),
        open=sum(one.open for one in expected),
        kept=len(expected) - sum(one.standing is not None for one in departures),
        least_driving=least.driving if least.unplaced == found.figures.unplaced else 0,
        proved=found.proved,
    )
