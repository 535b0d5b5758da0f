"""When schools begin late or send their students home early: the hours of shortened days between two dates."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from django.db.models import Max, Min

from schedule.calendar.calendars import in_force
from schedule.calendar.models import BellSchedule, CalendarEntry
from schedule.calendar.selectors.school_days import minutes_of

Kind = CalendarEntry.Kind

type Minutes = Mapping[dt.date, Mapping[int, int]]
"""Minutes after midnight by date and building."""
type Wanted = Mapping[dt.date, Collection[int]]


@dataclass(frozen=True, slots=True)
class _BellFrom:
    """The first or last bell, in minutes after midnight, from a first day on."""

    first: dt.date | None
    minute: int


type _Known = Mapping[tuple[int, int | None], Sequence[_BellFrom]]


def last_bells(entries: Iterable[CalendarEntry], wanted: Wanted) -> Minutes:
    """The last bell where a school closes early or rings other bells.

    A building's own entries come before the district's. A date of which the calendar says two things of one rank
    has none, as one whose building has no bells for such a day: a page says that, and nothing is guessed here. A
    time that the entry gives comes before the bells.
    """
    return _bells(entries, wanted, Kind.EARLY_DISMISSAL)


def first_bells(entries: Iterable[CalendarEntry], wanted: Wanted) -> Minutes:
    """The first bell where a school opens late or rings other bells, by the same rules."""
    return _bells(entries, wanted, Kind.DELAYED_OPENING)


def _bells(entries: Iterable[CalendarEntry], wanted: Wanted, kind: str) -> Minutes:
    rows = list(entries)
    mine = [one for one in rows if one.kind in {kind, Kind.OTHER_BELL}]
    if not mine:
        return {}
    by_bells = any(_clock(one) is None for one in mine)
    known = _known(set(chain.from_iterable(wanted.values())), kind) if by_bells else {}
    found: dict[dt.date, dict[int, int]] = defaultdict(dict)
    for date, building in ((date, one) for date, buildings in wanted.items() for one in buildings):
        minute = _minute(_entry_on(rows, building, date, kind), building, date, known)
        if minute is not None:
            found[date][building] = minute
    return found


def _minute(entry: CalendarEntry | None, building: int, date: dt.date, known: _Known) -> int | None:
    if entry is None:
        return None
    clock = _clock(entry)
    if clock is not None:
        return clock
    bell = in_force(known.get((building, entry.bell_schedule_id), ()), date)
    return None if bell is None else bell.minute


def _clock(entry: CalendarEntry) -> int | None:
    """The time that an entry gives itself."""
    clock = entry.closes_at if entry.kind == Kind.EARLY_DISMISSAL else entry.opens_at
    return None if clock is None else minutes_of(clock)


def _entry_on(entries: Iterable[CalendarEntry], building: int, date: dt.date, kind: str) -> CalendarEntry | None:
    """The shortened day that counts for a building on a date, None where there is none or more is said."""
    holding = [one for one in entries if one.first_date <= date <= one.last_date]
    for rank in (building, None):
        found = [one for one in holding if one.building_id == rank]
        if found:
            told = {(one.kind, one.bell_schedule_id, _clock(one)) for one in found}
            return found[0] if len(told) == 1 and found[0].kind in {kind, Kind.OTHER_BELL} else None
    return None


def _known(buildings: Collection[int], kind: str) -> _Known:
    """The first or last bell by building and bell schedule; None: the first schedule of the kind."""
    early = kind == Kind.EARLY_DISMISSAL
    rows = BellSchedule.objects.filter(building__in=buildings, periods__isnull=False).order_by("-pk")
    names = ("building_id", "pk", "kind", "periods__first_day")
    bells = rows.values_list(*names).annotate(Max("periods__end") if early else Min("periods__start"))
    by_schedule: dict[tuple[int, int, str], list[_BellFrom]] = defaultdict(list)
    for building, schedule, of_kind, first, bell in bells:
        by_schedule[building, schedule, of_kind].append(_BellFrom(first, minutes_of(bell)))
    found: dict[tuple[int, int | None], Sequence[_BellFrom]] = {}
    for (building, schedule, of_kind), sets in by_schedule.items():
        found[building, schedule] = sets
        if of_kind == kind:
            found[building, None] = sets
    return found
