"""What other bells, or another rotation, do to school days and planned sessions, before they are saved."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Q
from django.urls import reverse

from accounts.dates import date_words, span_words
from accounts.guards import LinkedText
from accounts.models import Person
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.models import SchoolYear
from schedule.calendar.selectors.school_days import load_calendars, minutes_of
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.told.outside import STAY, sessions_told
from travel.places.models import Building

type Facts = Mapping[dt.date, DayFacts]


@dataclass(frozen=True, slots=True)
class BellsHeld:
    """The school days of a building, its bells and what they are called, as things are saved."""

    facts: Facts
    today: dt.date

    def told(self, after: "BellsHeld", sessions: Iterable[PlannedSession]) -> list[str]:
        """Days, sessions and weeks that change, in sentences; none where no day does."""
        rung = [day for day, facts in self.facts.items() if _rung(facts) != _rung(after.facts[day])]
        named = [day for day, facts in self.facts.items() if _named(facts) != _named(after.facts[day])]
        days = {*rung, *named}
        if not days:
            return []
        there = [one for one in sessions if one.date in days]
        lost, back = _moved(there, self, after), _moved(there, after, self)
        return [
            *_days_told(named, "has another day of the rotation", "have another day of the rotation"),
            *_days_told(rung, "rings otherwise", "ring otherwise"),
            *_over_told(sum(day < self.today for day in days)),
            *_weeks_told(there),
            *sessions_told(
                lost,
                "1 planned session no longer lies within a period.",
                "{} planned sessions no longer lie within a period.",
                named=True,
            ),
            *sessions_told(
                back,
                "1 planned session lies within a period again.",
                "{} planned sessions lie within a period again.",
                named=True,
            ),
            *([STAY] if there else []),
        ]


def bells_held(building: Building, today: dt.date) -> BellsHeld:
    """As things are saved now, over all school years of the district. Raises as `load_calendars`."""
    found: dict[dt.date, DayFacts] = {}
    for year in SchoolYear.objects.filter(district=building.district).order_by("first_day"):
        calendar = load_calendars(building.district, [building], year)[building.pk]
        found |= {day: calendar.facts(day) for day in sorted(calendar.open_dates)}
    return BellsHeld(found, today)


def sessions_by_bells(building: Building) -> list[PlannedSession]:
    """Sessions of published weeks that go by the bells of a building: those of its students."""
    rows = PlannedSession.objects.filter(week__status=WeekPlan.Status.PUBLISHED)
    there = rows.filter(Q(students_from=building) | Q(students_from=None, building=building))
    return list(there.select_related("building", "school_class", "week__teacher").order_by("date", "start", "pk"))


def _rung(facts: DayFacts) -> object:
    return (facts.bells.periods, facts.bells.passing_minutes) if facts.bells is not None else None


def _named(facts: DayFacts) -> object:
    return [(one.label, one.name, one.grades) for one in facts.turning if one.label]


def _moved(sessions: Iterable[PlannedSession], before: BellsHeld, after: BellsHeld) -> list[PlannedSession]:
    """Those to come that lie within a period before and not after."""
    coming = (one for one in sessions if one.date >= before.today)
    return [one for one in coming if _lies(one, before.facts) and not _lies(one, after.facts)]


def _lies(one: PlannedSession, facts: Facts) -> bool:
    """Whether a session lies in instruction, and in the period in which it is planned."""
    bells = facts[one.date].bells
    start, end = minutes_of(one.start), minutes_of(one.end)
    if bells is None or not bells.teaches(start, end):
        return False
    called = [period for period in bells.periods if period.name.casefold() == one.period.casefold()]
    return not one.period or any(period.start <= start and end <= period.end for period in called)


def _days_told(days: Sequence[dt.date], one: str, more: str) -> list[str]:
    if not days:
        return []
    if len(days) == 1:
        return [f"1 school day {one}: {date_words(days[0])}."]
    return [f"{len(days)} school days {more}, {span_words(days[0], days[-1])}."]


def _over_told(over: int) -> list[str]:
    if not over:
        return []
    if over == 1:
        return ["1 of them is over: what it shows changes."]
    return [f"{over} of them are over: what they show changes."]


def _weeks_told(sessions: Iterable[PlannedSession]) -> list[str]:
    """For each teacher how many sessions in how many weeks, with the first of these."""
    by_teacher: dict[Person, list[PlannedSession]] = defaultdict(list)
    for one in sessions:
        by_teacher[one.week.teacher].append(one)
    return [_week_told(teacher, by_teacher[teacher]) for teacher in sorted(by_teacher, key=str)]


def _week_told(teacher: Person, sessions: Sequence[PlannedSession]) -> LinkedText:
    mondays = sorted({one.date - dt.timedelta(days=one.date.weekday()) for one in sessions})
    counted = "1 planned session" if len(sessions) == 1 else f"{len(sessions)} planned sessions"
    weeks = "1 week" if len(mondays) == 1 else f"{len(mondays)} weeks"
    begins = f"from {date_words(mondays[0])} on" if len(mondays) > 1 else f"of {date_words(mondays[0])}"
    address = reverse("week") + "?" + urlencode({"teacher": teacher.pk, "week": mondays[0].isoformat()})
    return LinkedText(f"{teacher}: {counted} on these days, in {weeks} {begins}.", address)
