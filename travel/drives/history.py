"""A teacher's logged drives and a district's rush factors, as the pure modules take them."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from travel.drives.learning import DriveSample
from travel.drives.models import DriveFactor, DriveLog
from travel.drives.time_of_day import RushWindow
from travel.places.models import Building

# Roads and lights change: of each pair only the latest drives teach.
LATEST_DRIVES = 60

DRIVES = SqlOnce(
    lambda district, teacher: DriveLog.objects.filter(
        arrived_at__isnull=False, district=district, teacher=teacher
    ).order_by("-started_at", "-pk")
)
FACTORS = SqlOnce(lambda district: DriveFactor.objects.filter(district=district))

type PairId = tuple[int, int]


@dataclass(frozen=True, slots=True)
class DriveHistory:
    """Drives by pair and direction, the latest first, and the windows of the day with their factors."""

    drives: Mapping[PairId, tuple[DriveSample, ...]]
    windows: tuple[RushWindow, ...]


def history_of(teacher: Person, buildings: Mapping[int, Building]) -> DriveHistory:
    """What is known of drives between some buildings. Drives still under way and without times are left out."""
    logs = DRIVES(teacher.district_id, teacher.pk)
    drives: dict[PairId, list[DriveSample]] = {}
    # Which buildings is asked here and not of the database: naming 150 of them twice costs more than the rows.
    for log in (log for log in logs if log.origin_id in buildings and log.destination_id in buildings):
        log.origin = buildings[log.origin_id]
        known = drives.setdefault((log.origin_id, log.destination_id), [])
        if len(known) < LATEST_DRIVES and log.minutes is not None and log.start_minute is not None:
            known.append(DriveSample(log.minutes, None, log.start_minute))
    return DriveHistory({pair: tuple(known) for pair, known in drives.items()}, _windows(teacher))


def _windows(teacher: Person) -> tuple[RushWindow, ...]:
    rows = FACTORS(teacher.district_id)
    return tuple(
        RushWindow(_minute(row.start), _minute(row.end), float(row.factor), pair)
        for row in rows
        for pair in _pairs(row)
    )


def _pairs(row: DriveFactor) -> list[PairId | None]:
    if row.origin_id is None or row.destination_id is None:
        return [None]
    there, back = (row.origin_id, row.destination_id), (row.destination_id, row.origin_id)
    return [there, back] if row.both_ways else [there]


def _minute(time: dt.time) -> int:
    return 60 * time.hour + time.minute
