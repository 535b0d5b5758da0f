"""The drives of one day: as planned, what a closing takes away or puts in their place, and what was driven."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from accounts.idempotency.shared import shared
from accounts.models import Person
from schedule.calendar.selectors.school_days import time_of
from schedule.day.data import DrivenView, DriveView, OtherDrive, leg_meant
from schedule.day.drive_match import Ends, Timed, drive_key, match_drives
from schedule.day.selectors.calendar import drivers_of
from schedule.weeks.data import ItemView
from schedule.weeks.selectors.arrivals import LegArrival
from travel.drives.models import DriveLog
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class DayLeg:
    """A drive with its time, and why it isn't driven (empty if it is)."""

    view: DriveView
    start_minute: int
    end_minute: int
    off: str


@dataclass(frozen=True, slots=True)
class DayDrives:
    """All drives of a day, in order, and logged ones that none of them is."""

    legs: tuple[DayLeg, ...]
    others: tuple[OtherDrive, ...]

    @property
    def drive_ids(self) -> frozenset[int]:
        """Ids of every logged drive of the day."""
        found = [one.view.driven for one in self.legs if one.view.driven is not None]
        return frozenset(one.drive_id for one in (*found, *(other.driven for other in self.others)))

    def leg(self, key: str) -> DriveView | None:
        """The drive of a key, taking place or not."""
        return leg_meant(key, ((one.view, one.start_minute) for one in self.legs))


class DriveDay:
    """Reads one teacher's drives of a date; `arrivals` are those of the date.

    `known`: schools with their districts that were read already.
    """

    def __init__(
        self,
        viewer: Person,
        teacher: Person,
        date: dt.date,
        items: Sequence[ItemView],
        arrivals: Sequence[LegArrival],
        known: Mapping[int, Building] | None = None,
    ) -> None:
        self.teacher = teacher
        self.date = date
        self.drives = [one for one in items if one.kind == "drive" and one.origin_id and one.building_id]
        self.arrivals = {(one.origin_id, one.destination_id, one.leave): one for one in arrivals}
        logs = DriveLog.objects.visible_to(viewer).filter(drivers_of(teacher, date), date=date)
        self.logs = list(logs.order_by("started_at", "pk"))
        self.buildings = _buildings(teacher, _all_ends(self.drives, self.logs), known or {})
        for log in self.logs:
            log.origin, log.destination = self.buildings[log.origin_id], self.buildings[log.destination_id]

    def read(self, *, may_tap: bool) -> DayDrives:
        """The drives; taps are offered if the viewer may tap today."""
        legs = _numbered(sorted(self._planned(), key=lambda one: one.start_minute))
        by_id = {log.pk: log for log in self.logs}
        matched = match_drives(
            [Timed(one.view.key, (one.view.origin_id, one.view.destination_id), one.start_minute) for one in legs],
            [
                Timed(log.pk, (log.origin_id, log.destination_id), log.start_minute, log.planned_drive)
                for log in self.logs
            ],
        )
        used = {int(one.key): key for key, one in matched.items()}
        last = max((log for log in self.logs if log.started_at is not None), key=_started, default=None)
        of_leg = {key: by_id[pk] for pk, key in used.items()}
        return DayDrives(
            tuple(_with_log(one, of_leg.get(one.view.key), last, may_tap) for one in legs),
            tuple(self._others(used)),
        )

    def _others(self, used: Collection[int]) -> Iterator[OtherDrive]:
        """Drives that belong to none of the planned ones."""
        for log in self.logs:
            if log.pk not in used:
                yield OtherDrive(log.origin.name, log.destination.name, driven_view(log))

    def _planned(self) -> Iterable[DayLeg]:
        """Each drive of the day as `schedule.weeks.day_shape` decided it, the straight ones among them."""
        for item in self.drives:
            yield DayLeg(self._view(item), item.start_minute, item.end_minute, item.off)

    def _view(self, item: ItemView) -> DriveView:
        origin, destination = (self.buildings[pk] for pk in _ends(item))
        leave = time_of(item.start_minute + origin.leave_minutes)
        is_known = not item.straight or bool(item.source)
        return DriveView(
            key="",
            origin_id=origin.pk,
            origin_name=origin.name,
            destination_id=destination.pk,
            destination_name=destination.name,
            minutes=item.drive_minutes if is_known else None,
            miles=item.miles if is_known else None,
            source=item.source,
            source_words=item.source_words,
            leave=leave,
            park_by=time_of(max(item.end_minute - destination.arrive_minutes, item.start_minute)),
            straight=item.straight,
            arrival=self.arrivals.get((origin.pk, destination.pk, leave)),
        )


def _all_ends(drives: Iterable[ItemView], logs: Iterable[DriveLog]) -> set[int]:
    """Of planned drives and of logged ones."""
    planned = {pk for one in drives for pk in _ends(one)}
    return planned | {pk for log in logs for pk in (log.origin_id, log.destination_id)}


def _buildings(teacher: Person, ids: set[int], known: Mapping[int, Building]) -> Mapping[int, Building]:
    """By id; what isn't known is read."""
    missing = frozenset(ids - set(known))
    if not missing:
        return known
    rows = Building.objects.filter(district=teacher.district_id, pk__in=missing).select_related("district")
    read = shared(("ends", teacher.district_id, missing), lambda: {row.pk: row for row in rows})
    return {**known, **read}


def _ends(item: ItemView) -> Ends:
    return item.origin_id or 0, item.building_id or 0


def _numbered(legs: Iterable[DayLeg]) -> list[DayLeg]:
    """Each drive with its key."""
    count: Counter[str] = Counter()
    found = []
    for one in legs:
        ends = (one.view.origin_id, one.view.destination_id)
        alike = count[drive_key(ends, one.start_minute)]
        count[drive_key(ends, one.start_minute)] += 1
        found.append(replace(one, view=replace(one.view, key=drive_key(ends, one.start_minute, alike))))
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
