"""How likely each drive of a planned week arrives on time, and what each pair of buildings costs in a week."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from accounts.models import Person
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.drive_lines import DriveLine, drive_lines, planned_drives
from schedule.weeks.selectors.scope import week_require
from travel.drives.arrivals import Arrival, PlannedDrive, arrival_of, tightest
from travel.drives.learning import differing_words
from travel.drives.selectors import drive_predictions
from travel.places.models import Building

Kind = DayItem.Kind


@dataclass(frozen=True, slots=True)
class LegArrival:
    """One planned drive: times local to the buildings, minutes at the wheel, the chance from 0 to 1 that the next
    class or meeting doesn't have to wait, and from how many logged drives that is known.

    `planned_with`: minutes that the teacher entered, if they did; `differs`: what the drives say otherwise."""

    date: dt.date
    origin_id: int
    destination_id: int
    leave: dt.time
    due: dt.time
    allowed_minutes: int
    usual_minutes: float
    chance: float
    drives: int
    origin_name: str = ""
    destination_name: str = ""
    planned_with: float | None = None
    differs: str = ""

    @property
    def percent(self) -> str:
        """The chance in words; no drive is certain."""
        whole = round(100 * self.chance)
        return "under 1 %" if whole < 1 else "over 99 %" if whole > 99 else f"{whole} %"


@dataclass(frozen=True, slots=True)
class WeekArrivals:
    """A week's drives in their order, the tightest of them (None if nothing is driven), and the cost by pair."""

    legs: tuple[LegArrival, ...]
    tightest: LegArrival | None
    pairs: tuple[DriveLine, ...]


def _key(drive: PlannedDrive) -> tuple[int, int, int]:
    return drive.origin_id, drive.destination_id, drive.leave


def _end_names(drives: Iterable[DayItem]) -> dict[int, str]:
    return {end.pk: end.name for one in drives for end in (one.origin, one.building) if end is not None}


def week_arrivals(viewer: Person, week: WeekPlan) -> WeekArrivals:
    """For the teacher and the coordinator; raises ``ApplicationError`` (404) for everyone else.

    A drive is due when the next class or meeting begins, less the minutes to park and sign in, and less a lunch
    that lies between; preparation gives way. Drives with nothing after them are not judged.
    """
    week_require(viewer, week)
    drives = planned_drives(week)
    arrivals = _arrivals(week, drives)
    worst = tightest(arrivals)
    names, own = _end_names(drives), viewer.pk == week.teacher_id
    return WeekArrivals(
        legs=tuple(_leg(one, names, own=own) for one in arrivals),
        tightest=None if worst is None else _leg(worst, names, own=own),
        pairs=drive_lines(drives),
    )


def day_arrivals(
    viewer: Person,
    week: WeekPlan,
    sessions: Iterable[PlannedSession],
    items: Sequence[DayItem],
    buildings: Mapping[int, Building],
) -> tuple[LegArrival, ...]:
    """The drives of one date of a week, as `week_arrivals` judges them, for whoever has read all of it.

    `items` with both their buildings, in order; `buildings` by id, with their districts.
    """
    drives = [one for one in items if one.kind == Kind.DRIVE and one.origin and one.building]
    names, own = _end_names(drives), viewer.pk == week.teacher_id
    starts = [(one.date, one.start) for one in sessions]
    return tuple(_leg(one, names, own=own) for one in _judged(week.teacher, drives, items, starts, buildings))


def _arrivals(week: WeekPlan, drives: Sequence[DayItem]) -> list[Arrival]:
    """The drives of a week that can be judged."""
    if not drives:
        return []
    items = list(DayItem.objects.filter(week=week, kind__in=(Kind.LUNCH, Kind.MEETING)))
    starts = PlannedSession.objects.filter(week=week).values_list("date", "start")
    rows = Building.objects.filter(district=week.district, pk__in=_end_names(drives)).select_related("district")
    return _judged(week.teacher, drives, items, starts, {row.pk: row for row in rows})


def _judged(
    teacher: Person,
    drives: Iterable[DayItem],
    items: Sequence[DayItem],
    starts: Iterable[tuple[dt.date, dt.time]],
    buildings: Mapping[int, Building],
) -> list[Arrival]:
    """Those that lead to a class or a meeting and of which something is known."""
    fixed = _fixed(starts, items)
    planned = list(filter(None, (_planned(one, items, fixed) for one in drives)))
    if not planned:
        return []
    ends = {pk for one in planned for pk in (one.origin_id, one.destination_id)}
    predictions = drive_predictions(
        teacher, [row for pk, row in buildings.items() if pk in ends], set(map(_key, planned))
    )
    return [arrival_of(one, predictions[_key(one)]) for one in planned if _key(one) in predictions]


def _fixed(starts: Iterable[tuple[dt.date, dt.time]], items: Sequence[DayItem]) -> list[tuple[dt.date, int]]:
    """When somebody waits: starts of classes and meetings."""
    meetings = [(one.date, one.start) for one in items if one.kind == Kind.MEETING]
    return sorted((date, _minute(start)) for date, start in (*starts, *meetings))


def _begins_after(fixed: Iterable[tuple[dt.date, int]], date: dt.date, minute: int) -> int | None:
    """When the next class or meeting of the date begins."""
    return next((start for day, start in fixed if day == date and start >= minute), None)


def _planned(drive: DayItem, items: Sequence[DayItem], fixed: Sequence[tuple[dt.date, int]]) -> PlannedDrive | None:
    if drive.origin is None or drive.building is None:
        return None
    end = _minute(drive.end)
    begins = _begins_after(fixed, drive.date, end)
    if begins is None:
        return None
    lunches = (one for one in items if one.kind == Kind.LUNCH and one.date == drive.date)
    lunch = sum(_minute(one.end) - _minute(one.start) for one in lunches if end <= _minute(one.start) < begins)
    return PlannedDrive(
        date=drive.date,
        origin_id=drive.origin.pk,
        destination_id=drive.building.pk,
        leave=_minute(drive.start) + drive.origin.leave_minutes,
        due=begins - lunch - drive.building.arrive_minutes,
    )


def _leg(one: Arrival, names: Mapping[int, str], *, own: bool) -> LegArrival:
    return LegArrival(
        date=one.drive.date,
        origin_id=one.drive.origin_id,
        destination_id=one.drive.destination_id,
        leave=_time(one.drive.leave),
        due=_time(one.drive.due),
        allowed_minutes=one.drive.allowed,
        usual_minutes=round(one.prediction.middle, 1),
        chance=round(one.chance, 3),
        drives=one.prediction.drives,
        origin_name=names[one.drive.origin_id],
        destination_name=names[one.drive.destination_id],
        planned_with=one.prediction.entered,
        differs=differing_words(one.prediction, own=own),
    )


def _minute(time: dt.time) -> int:
    return 60 * time.hour + time.minute


def _time(minute: int) -> dt.time:
    return dt.time(minute // 60, minute % 60)
