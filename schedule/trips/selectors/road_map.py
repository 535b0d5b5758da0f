"""The map of a teacher's drives in a week or on one of its days, and what it costs to move a building."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from accounts.errors import ApplicationError
from accounts.models import District, Person
from schedule.weeks.day_shape import buildings_of
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import part_of
from schedule.weeks.selectors.drive_lines import DriveLine, drive_lines, planned_drives
from schedule.weeks.selectors.scope import teacher_require
from schedule.weeks.selectors.weeks import latest_draft, week_in_force
from travel.drives.move_cost import Drive, DriveCost, MoveCost, move_cost
from travel.drives.selectors import DriveTable, drive_table
from travel.places.map_drawing import NARROW, MapLeg, MapPlace, RoadMap, draw_map
from travel.places.models import Building
from travel.places.naming import short_school_names
from travel.places.points import point_of
from travel.places.selectors import Ground, map_ground
from travel.roads.base import Point, RoadError
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.sources import district_engine


@dataclass(frozen=True, slots=True)
class RoadMapView:
    """Buildings and drives; `drawing` is None where no building has coordinates, `narrow` is it for a phone.

    `week_id` is None where nothing is planned. `without_place`: names of buildings that can't be drawn.
    `on_roads`: lines follow the roads; else they are straight. `warnings` are sentences for the page.
    `ground`: what lies below the lines. `short_names`: short and whole names, which the narrow map needs.
    """

    teacher_id: int
    monday: dt.date
    day: dt.date | None
    week_id: int | None
    is_draft: bool
    drive_days: tuple[dt.date, ...]
    lines: tuple[DriveLine, ...]
    drawing: RoadMap | None
    narrow: RoadMap | None
    without_place: tuple[str, ...]
    on_roads: bool
    warnings: tuple[str, ...]
    ground: Ground
    short_names: tuple[tuple[str, str], ...]

    @property
    def minutes(self) -> int:
        """At the wheel, in all."""
        return sum(line.minutes for line in self.lines)

    @property
    def miles(self) -> Decimal:
        """In all."""
        return sum((line.miles for line in self.lines), Decimal(0))

    @property
    def trips(self) -> int:
        """In all."""
        return sum(line.trips for line in self.lines)


def map_week(viewer: Person, teacher: Person, monday: dt.date) -> WeekPlan | None:
    """The week in force, else the newest draft. Raises `ApplicationError` (404) for another's week."""
    teacher_require(viewer, teacher)
    return week_in_force(viewer, teacher, monday) or latest_draft(viewer, teacher, monday)


def _places(buildings: Iterable[Building], visited: Collection[int]) -> list[MapPlace]:
    """The buildings that have coordinates."""
    return [
        MapPlace(building.pk, building.name, point, building.pk in visited)
        for building in buildings
        if (point := point_of(building)) is not None
    ]


def _without_place(buildings: Iterable[Building]) -> tuple[str, ...]:
    return tuple(building.name for building in buildings if point_of(building) is None)


def _way(engine: OsrmEngine | None, origin: Point | None, destination: Point | None) -> tuple[Point, ...] | None:
    """The points along a drive; None where its ends or the road aren't known."""
    if engine is None or origin is None or destination is None:
        return None
    found = engine.line(origin, destination)
    return found.points if found is not None else None


def _of_day(drives: Sequence[DayItem], day: dt.date | None) -> Sequence[DayItem]:
    return drives if day is None else [one for one in drives if one.date == day]


def _relabeled(places: Iterable[MapPlace], labels: Mapping[int, str]) -> list[MapPlace]:
    return [replace(one, label=labels[one.key]) for one in places]


def road_map_view(viewer: Person, teacher: Person, monday: dt.date, day: dt.date | None = None) -> RoadMapView:
    """The map of a week, or of one date of it."""
    week = map_week(viewer, teacher, monday)
    drives = planned_drives(week)
    buildings = list(Building.objects.visible_to(viewer))
    lines = drive_lines(_of_day(drives, day))
    ways, warnings = _ways(teacher.district, buildings, lines)
    places = _places(buildings, {one for line in lines for one in (line.origin_id, line.destination_id)})
    short = short_school_names({building.pk: building.name for building in buildings})
    legs = _legs(lines, ways)
    ground = map_ground(teacher.district)
    return RoadMapView(
        teacher_id=teacher.pk,
        monday=monday,
        day=day,
        week_id=week.pk if week else None,
        is_draft=week is not None and week.status == WeekPlan.Status.DRAFT,
        drive_days=tuple(sorted({one.date for one in drives})),
        lines=lines,
        drawing=draw_map(places, legs, ground=ground.layer),
        narrow=draw_map(_relabeled(places, short), legs, NARROW, ground.layer),
        without_place=_without_place(buildings),
        on_roads=bool(ways),
        warnings=warnings,
        ground=ground,
        short_names=tuple((short[one.key], one.name) for one in places),
    )


type Ways = dict[tuple[int, int], tuple[Point, ...]]


def _ways(
    district: District | None, buildings: Iterable[Building], lines: Iterable[DriveLine]
) -> tuple[Ways, tuple[str, ...]]:
    """Where each drive runs, from the roads that the district prepared; nothing without them."""
    points = {one.pk: point for one in buildings if (point := point_of(one)) is not None}
    ways: Ways = {}
    try:
        engine = district_engine(district) if district is not None else None
        for line in lines if engine is not None else ():
            way = _way(engine, points.get(line.origin_id), points.get(line.destination_id))
            if way is not None:
                ways[line.origin_id, line.destination_id] = way
    except RoadError as error:
        return {}, (f"{error.message} {error.remedy} Lines are straight for now.",)
    return ways, ()


def _legs(lines: Sequence[DriveLine], ways: Ways) -> list[MapLeg]:
    """Both directions of a pair as one line on the map: the busier one's way."""
    by_pair: dict[frozenset[int], list[DriveLine]] = defaultdict(list)
    for line in lines:
        by_pair[frozenset((line.origin_id, line.destination_id))].append(line)
    return [
        MapLeg(
            origin=both[0].origin_id,
            destination=both[0].destination_id,
            trips=sum(line.trips for line in both),
            spoken="; ".join(_spoken(line) for line in both),
            way=ways.get((both[0].origin_id, both[0].destination_id), ()),
        )
        for both in by_pair.values()
    ]


def _spoken(line: DriveLine) -> str:
    times = "1 trip" if line.trips == 1 else f"{line.trips} trips"
    each = " each" if line.trips > 1 else ""
    return f"{line.origin} to {line.destination}: {times}, {line.minutes_each} minutes at the wheel{each}"


def week_move_cost(viewer: Person, week: WeekPlan, origin_id: int, destination_id: int) -> MoveCost:
    """What a week's driving would be if all that is planned at one building took place at another, in its order.

    Raises `ApplicationError`: 404 for a building that the viewer doesn't see, ``same_building``, ``no_drive_time``.
    """
    if origin_id == destination_id:
        raise ApplicationError("Choose two different buildings.", code="same_building", status=400)
    days = _stops(week)
    ids = {one for day in days for one in day} | {origin_id, destination_id}
    buildings = {one.pk: one for one in Building.objects.visible_to(viewer).filter(pk__in=ids)}
    if not {origin_id, destination_id} <= set(buildings):
        raise ApplicationError("There is no such building.", code="not_found", status=404)
    return move_cost(
        days, origin_id, destination_id, _Costs(buildings, drive_table(week.teacher, buildings.values()))
    )


def _stops(week: WeekPlan) -> list[list[int]]:
    """The buildings of each date in their order."""
    found: dict[dt.date, list[int]] = defaultdict(list)
    events: list[DayItem | PlannedSession] = [
        *DayItem.objects.filter(week=week),
        *PlannedSession.objects.filter(week=week),
    ]
    for event in sorted(events, key=lambda one: (one.date, one.start, one.end)):
        found[event.date].extend(buildings_of(part_of(event)))
    return list(found.values())


class _Costs:
    """What drives between some buildings cost, by the table of drive times."""

    def __init__(self, buildings: dict[int, Building], table: DriveTable) -> None:
        self.buildings, self.table = buildings, table

    def __call__(self, drive: Drive) -> DriveCost:
        leg = self.table.leg(*drive)
        around = self.buildings[drive[0]].leave_minutes + self.buildings[drive[1]].arrive_minutes
        return DriveCost(leg.minutes, around, leg.miles)
