"""The drives of one day: as planned, what a closing takes away or puts in their place, and what was driven."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from zoneinfo import ZoneInfo

from accounts.models import Person
from schedule.day_data import DrivenView, DriveView, OtherDrive
from schedule.drive_match import Ends, Timed, match_drives
from schedule.planner_io.school_days import time_of
from schedule.selectors.arrivals import LegArrival
from schedule.selectors.mileage_proposals import driven_stops
from schedule.week_data import ItemView
from travel.models import Building, DriveLog
from travel.routing.base import LEG_SOURCE_WORDS, Leg
from travel.selectors import drive_table


@dataclass(frozen=True, slots=True)
class DayLeg:
    """A drive with its time, and why it isn't driven (empty if it is)."""

    view: DriveView
    start_minute: int
    end_minute: int
    off: str


@dataclass(frozen=True, slots=True)
class DayDrives:
    """All drives of a day, in order, logged ones that none of them is, and why buildings are left out."""

    legs: tuple[DayLeg, ...]
    others: tuple[OtherDrive, ...]
    left_out: Mapping[int, str]


class DriveDay:
    """Reads one teacher's drives of a date.

    `why` says of a building why it isn't driven to; `arrivals` are those of the date.
    """

    def __init__(
        self,
        viewer: Person,
        teacher: Person,
        date: dt.date,
        items: Sequence[ItemView],
        arrivals: Sequence[LegArrival],
    ) -> None:
        self.teacher = teacher
        self.date = date
        self.drives = [one for one in items if one.kind == "drive" and one.origin_id and one.building_id]
        self.arrivals = {(one.origin_id, one.destination_id, one.leave): one for one in arrivals}
        logs = DriveLog.objects.visible_to(viewer).filter(teacher=teacher, date=date)
        self.logs = list(
            logs.select_related("origin__district", "destination__district").order_by("started_at", "pk")
        )
        self.stops, self.left_out = driven_stops(teacher, date) if self.drives else ((), ())
        ids = {pk for one in self.drives for pk in _ends(one)}
        rows = Building.objects.filter(district=teacher.district, pk__in=ids).select_related("district")
        self.buildings: Mapping[int, Building] = {row.pk: row for row in rows}

    def read(self, why: Mapping[int, str], *, may_tap: bool) -> DayDrives:
        """The drives; taps are offered if the viewer may tap today."""
        legs = _numbered(sorted([*self._planned(why), *self._straight()], key=lambda one: one.start_minute))
        by_id = {log.pk: log for log in self.logs}
        matched = match_drives(
            [Timed(one.view.key, (one.view.origin_id, one.view.destination_id), one.start_minute) for one in legs],
            [Timed(log.pk, (log.origin_id, log.destination_id), log.start_minute) for log in self.logs],
        )
        used = {int(one.key): key for key, one in matched.items()}
        last = max((log for log in self.logs if log.started_at is not None), key=_started, default=None)
        of_leg = {key: by_id[pk] for pk, key in used.items()}
        return DayDrives(
            tuple(_with_log(one, of_leg.get(one.view.key), last, may_tap) for one in legs),
            tuple(
                OtherDrive(log.origin.name, log.destination.name, driven_view(log))
                for log in self.logs
                if log.pk not in used
            ),
            why,
        )

    def _planned(self, why: Mapping[int, str]) -> Iterable[DayLeg]:
        """Each planned drive; where a building is left out, those that lead there or away are off."""
        driven = Counter(pairwise(self.stops))
        for item in self.drives:
            ends = _ends(item)
            on = not self.left_out or driven[ends] > 0
            driven[ends] -= int(on)
            # Where neither end is left out, nothing is left to drive for: only the base would be.
            reason = next((why[pk] for pk in (*ends[::-1], *self.left_out) if pk in why), "nothing to drive to")
            yield DayLeg(self._view(item), item.start_minute, item.end_minute, "" if on else reason)

    def _straight(self) -> list[DayLeg]:
        """Drives that join what lies on both sides of a building that is left out."""
        if not self.left_out:
            return []
        missing = Counter(pairwise(self.stops))
        missing.subtract(_ends(item) for item in self.drives)
        pairs = [ends for ends in dict.fromkeys(pairwise(self.stops)) if missing[ends] > 0]
        table = drive_table(self.teacher, self.buildings.values()) if pairs else None
        found = []
        for ends in pairs:
            between = _between(self.drives, ends)
            if between is not None and table is not None:
                found.append(self._straight_leg(ends, *between, table.legs.get(ends)))
        return found

    def _straight_leg(self, ends: Ends, earliest: int, due: int, leg: Leg | None) -> DayLeg:
        origin, destination = (self.buildings[pk] for pk in ends)
        wheel = leg.minutes if leg is not None else 0
        start = max(earliest, due - origin.leave_minutes - wheel - destination.arrive_minutes)
        view = DriveView(
            key="",
            origin_id=origin.pk,
            origin_name=origin.name,
            destination_id=destination.pk,
            destination_name=destination.name,
            minutes=leg.minutes if leg is not None else None,
            miles=leg.miles if leg is not None else None,
            source=leg.source.value if leg is not None else "",
            source_words=LEG_SOURCE_WORDS[leg.source] if leg is not None else "",
            leave=time_of(start + origin.leave_minutes),
            park_by=time_of(due - destination.arrive_minutes),
            straight=True,
        )
        return DayLeg(view, start, due, "")

    def _view(self, item: ItemView) -> DriveView:
        origin, destination = (self.buildings[pk] for pk in _ends(item))
        leave = time_of(item.start_minute + origin.leave_minutes)
        return DriveView(
            key="",
            origin_id=origin.pk,
            origin_name=origin.name,
            destination_id=destination.pk,
            destination_name=destination.name,
            minutes=item.drive_minutes,
            miles=item.miles,
            source=item.source,
            source_words=item.source_words,
            leave=leave,
            park_by=time_of(max(item.end_minute - destination.arrive_minutes, item.start_minute)),
            arrival=self.arrivals.get((origin.pk, destination.pk, leave)),
        )


def _ends(item: ItemView) -> Ends:
    return item.origin_id or 0, item.building_id or 0


def _between(drives: Sequence[ItemView], ends: Ends) -> tuple[int, int] | None:
    """From when one can leave the first of two buildings, and when one is due in the second, as planned."""
    for number, first in enumerate(drives):
        if first.origin_id == ends[0]:
            last = next((one for one in drives[number + 1 :] if one.building_id == ends[1]), None)
            if last is not None:
                return first.start_minute, last.end_minute
    return None


def _numbered(legs: Iterable[DayLeg]) -> list[DayLeg]:
    """Each drive with its key: both buildings, and which of those alike it is."""
    count: Counter[Ends] = Counter()
    found = []
    for one in legs:
        ends = (one.view.origin_id, one.view.destination_id)
        count[ends] += 1
        found.append(replace(one, view=replace(one.view, key=f"{ends[0]}-{ends[1]}-{count[ends]}")))
    return found


def _started(log: DriveLog) -> dt.datetime:
    if log.started_at is None:
        raise ValueError(log.pk)
    return log.started_at


def _with_log(one: DayLeg, log: DriveLog | None, last: DriveLog | None, may_tap: bool) -> DayLeg:
    """A drive with what was logged of it; what was driven is never off. Only the latest can still arrive."""
    if log is None:
        return replace(one, view=replace(one.view, may_start=may_tap))
    driven = driven_view(log)
    undo = "arrive" if driven.arrived is not None else "start"
    view = replace(
        one.view,
        driven=driven,
        may_arrive=may_tap and driven.is_under_way and log == last,
        undo=undo if may_tap and driven.started is not None else "",
    )
    return replace(one, view=view, off="")


def driven_view(log: DriveLog) -> DrivenView:
    """A logged drive; needs both buildings with their districts."""
    return DrivenView(
        drive_id=log.pk,
        started=_local(log.started_at, log.origin),
        arrived=_local(log.arrived_at, log.destination),
        minutes=None if log.minutes is None else round(log.minutes),
        odometer_before=log.odometer_before,
        odometer_after=log.odometer_after,
    )


def _local(moment: dt.datetime | None, building: Building) -> dt.time | None:
    return None if moment is None else moment.astimezone(ZoneInfo(building.zone)).time().replace(microsecond=0)
