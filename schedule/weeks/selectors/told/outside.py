"""Which planned sessions other hours of a teacher or of a space leave outside, before they are saved."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from accounts.dates import date_words, span_words
from accounts.models import Person
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.models import ContractDay, SpaceFreeTime
from schedule.calendar.selectors.school_days import load_calendars, minutes_of, year_among
from schedule.calendar.starts import SpaceDay, spoken
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.planning.sources import slot_of
from travel.places.models import Space

STAY = "They stay planned as they are: move them, or plan these weeks again."

type Facts = Mapping[dt.date, DayFacts]


@dataclass(frozen=True, slots=True)
class HeldInHours:
    """Sessions of published weeks of a teacher, or in a space, that hours can leave outside."""

    whose: Person | Space
    sessions: tuple[PlannedSession, ...]
    facts: Facts

    @property
    def outside(self) -> set[int]:
        """Those that lie outside as the hours are saved now."""
        return _outside(self.whose, self.sessions, self.facts)

    def told(self, before: set[int], after: set[int]) -> list[str]:
        """What lies outside after and didn't before, and what is inside again, in sentences."""
        lost, back = ([one for one in self.sessions if one.pk in pks] for pks in (after - before, before - after))
        named = isinstance(self.whose, Space)
        told = sessions_told(
            lost, "1 planned session falls outside.", "{} planned sessions fall outside.", named=named
        )
        return [
            *told,
            *([STAY] if told else []),
            *sessions_told(
                back, "1 planned session is inside again.", "{} planned sessions are inside again.", named=named
            ),
        ]


def held_in_hours(row: object, today: dt.date) -> HeldInHours | None:
    """Of a contract day, a space or its free time, from today on; None for a row of another kind."""
    whose = _whose(row)
    if whose is None:
        return None
    sessions = _sessions(whose, today)
    return HeldInHours(whose, tuple(sessions), _facts(whose, sessions) if isinstance(whose, Space) else {})


def _whose(row: object) -> Person | Space | None:
    """Whose sessions are looked at: a teacher's, or those in a space."""
    if isinstance(row, ContractDay):
        return row.teacher
    return row.space if isinstance(row, SpaceFreeTime) else row if isinstance(row, Space) else None


def _sessions(whose: Person | Space, today: dt.date) -> list[PlannedSession]:
    rows = PlannedSession.objects.filter(week__status=WeekPlan.Status.PUBLISHED, date__gte=today)
    mine = rows.filter(week__teacher=whose) if isinstance(whose, Person) else rows.filter(space=whose)
    return list(mine.select_related("building", "school_class", "week__teacher").order_by("date", "start", "pk"))


def _facts(space: Space, sessions: Sequence[PlannedSession]) -> Facts:
    """What the building's bells say of each date; they decide when a period is."""
    building = space.building
    year = year_among(building.district, sessions[0].date, sessions[-1].date) if sessions else None
    if year is None:
        return {}
    calendar = load_calendars(building.district, [building], year)[building.pk]
    return {one.date: calendar.facts(one.date) for one in sessions}


def _outside(whose: Person | Space, sessions: Iterable[PlannedSession], facts: Facts) -> set[int]:
    """Those that lie outside as the rows are saved now."""
    if isinstance(whose, Person):
        return _out_of_hours(whose, sessions)
    space = Space.objects.filter(pk=whose.pk).first()
    return set() if space is None else _out_of_free_times(space, sessions, facts)


def _out_of_hours(teacher: Person, sessions: Iterable[PlannedSession]) -> set[int]:
    days = {one.weekday: one for one in ContractDay.objects.filter(teacher=teacher)}

    def is_inside(one: PlannedSession) -> bool:
        day = days.get(one.date.weekday())
        return day is not None and day.start <= one.start and one.end <= day.end

    return {one.pk for one in sessions if not is_inside(one)}


def _out_of_free_times(space: Space, sessions: Iterable[PlannedSession], facts: Facts) -> set[int]:
    slots = [slot_of(one) for one in SpaceFreeTime.objects.filter(space=space)]

    def day_of(date: dt.date) -> SpaceDay:
        known = facts.get(date)
        spans = [slot.span_on(known) for slot in slots] if known is not None else []
        free = tuple(span for span in spans if span is not None) if slots else None
        return SpaceDay(space.name, "", free=free, missing=space.why_not_on(date))

    return {
        one.pk for one in sessions if not day_of(one.date).is_free((minutes_of(one.start), minutes_of(one.end)))
    }


def sessions_told(sessions: Sequence[PlannedSession], one: str, several: str, *, named: bool) -> list[str]:
    """How many, then each time of the week with its dates; with the teacher's name where it may be anybody's."""
    if not sessions:
        return []
    times: dict[str, list[dt.date]] = defaultdict(list)
    for session in sessions:
        times[_words(session, named=named)].append(session.date)
    count = one if len(sessions) == 1 else several.format(len(sessions))
    return [count, *(f"{words}: {_dates_words(dates)}." for words, dates in times.items())]


def _words(one: PlannedSession, *, named: bool) -> str:
    what = one.school_class.name if one.school_class is not None else one.get_setting_display()
    when = f"{one.date:%A} {spoken((minutes_of(one.start), minutes_of(one.end)))}"
    where = f"of {one.week.teacher}" if named else f"at {one.building.name}"
    return f"{when}, {what} {where}"


def _dates_words(dates: Sequence[dt.date]) -> str:
    if len(dates) == 1:
        return date_words(dates[0])
    return f"{len(dates)} times, {span_words(dates[0], dates[-1])}"
