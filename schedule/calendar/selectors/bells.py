"""What a bell schedule rings from which day on: its sets of periods, as pages, tables and services show them.

What rings on a date says `selectors.school_days` (`BuildingCalendar.facts`), by the same first days.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import zip_longest

from accounts.dates import date_words, span_words
from accounts.models import AuditEntry, Person
from accounts.selectors import LastChange, change_words, today_of
from schedule.calendar.calendars import ONE_DAY, in_force
from schedule.calendar.models import BellPeriod, BellSchedule, SchoolYear
from travel.places.models import Building

SAVED, REMOVED, TAKEN_BACK = "bell_set_save", "bell_set_remove", "bell_set_take_back"


BEGINNING = "beginning"


def key_of(first: dt.date | None) -> str:
    """A set's first day as addresses and the audit have it."""
    return BEGINNING if first is None else first.isoformat()


@dataclass(frozen=True, slots=True)
class BellSet:
    """The periods that ring from `first` to `last`, both included; None leaves it open."""

    schedule_id: int
    first: dt.date | None
    last: dt.date | None
    periods: tuple[BellPeriod, ...]

    @property
    def key(self) -> str:
        """Its first day as addresses and the audit have it."""
        return key_of(self.first)

    @property
    def words(self) -> str:
        """``from January 5, 2027 on``, ``from August 31, 2026 to January 4, 2027``, ``until January 4, 2027``."""
        if self.first is None:
            return f"until {date_words(self.last)}" if self.last else "at all times"
        return f"from {span_words(self.first, self.last) if self.last else f'{date_words(self.first)} on'}"

    def is_over(self, today: dt.date) -> bool:
        """Whether another set has taken its place."""
        return self.last is not None and self.last < today


def sets_of(row: BellSchedule) -> tuple[BellSet, ...]:
    """All sets of a bell schedule, the oldest first."""
    return tuple(_sets(row.periods.all())) if row.pk else ()


def sets_at(building: Building) -> Iterator[BellSet]:
    """All sets of all of a building's bells."""
    by_schedule: dict[int, list[BellPeriod]] = defaultdict(list)
    for one in BellPeriod.objects.filter(schedule__building=building).select_related("schedule"):
        by_schedule[one.schedule_id].append(one)
    for periods in by_schedule.values():
        yield from _sets(periods)


def _sets(periods: Iterable[BellPeriod]) -> Iterator[BellSet]:
    by_day: dict[dt.date | None, list[BellPeriod]] = defaultdict(list)
    for one in periods:
        by_day[one.first_day].append(one)
    days = sorted(by_day, key=lambda day: day or dt.date.min)
    ends = [day - ONE_DAY for day in days[1:] if day is not None]
    for first, last in zip_longest(days, ends):
        rung = sorted(by_day[first], key=lambda one: (one.start, one.end, one.name))
        yield BellSet(rung[0].schedule_id, first, last, tuple(rung))


def set_on(row: BellSchedule, day: dt.date | None) -> BellSet | None:
    """The set that rings on a day (None: from the beginning); None before the first of them."""
    return in_force(sets_of(row), day or dt.date.min)


def set_shown(row: BellSchedule, today: dt.date) -> BellSet | None:
    """What a bell schedule rings today, else what it rings first."""
    return set_on(row, today) or next(iter(sets_of(row)), None)


def usual_first_day(row: BellSchedule, today: dt.date) -> dt.date | None:
    """From when a change of the periods counts where nobody says: from today on.

    Where no school year of the district has begun, nothing has rung: the set is put right as it is.
    """
    shown = set_shown(row, today)
    begun = SchoolYear.objects.filter(district=row.building.district_id, first_day__lt=today).exists()
    return today if shown is not None and begun else None if shown is None else shown.first


def last_set_change(row: BellSchedule) -> LastChange | None:
    """What was done last to a bell schedule's periods; nothing where that was taken back."""
    entries = AuditEntry.objects.filter(
        district=row.district,
        model=row._meta.label_lower,
        object_id=str(row.pk),
        action__in=(SAVED, REMOVED, TAKEN_BACK),
    )
    entry = entries.select_related("actor").order_by("-pk").first()
    if entry is None or entry.action == TAKEN_BACK:
        return None
    return LastChange(entry, change_words(entry, BellSchedule))


@dataclass(frozen=True, slots=True)
class BellsListed:
    """A bell schedule as its building's page lists it: what rings now, and the other sets beside that."""

    schedule: BellSchedule
    now: BellSet | None
    others: tuple[BellSet, ...]
    last: LastChange | None


def bells_listed(viewer: Person, building: Building) -> list[BellsListed]:
    """The bells of a building."""
    today = today_of(viewer)
    may = viewer.has_perm("district.change")
    found: list[BellsListed] = []
    for row in BellSchedule.objects.filter(building=building).prefetch_related("periods"):
        now = set_on(row, today)
        others = tuple(one for one in sets_of(row) if one != now)
        found.append(BellsListed(row, now, others, last_set_change(row) if may else None))
    return found
