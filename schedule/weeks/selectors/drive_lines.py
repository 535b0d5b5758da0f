"""What each direction of a pair of buildings costs in drives as they are planned: one answer for map and week."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from schedule.weeks.models import DayItem, WeekPlan
from travel.places.models import Building
from travel.roads.base import LEG_SOURCE_WORDS, LegSource


@dataclass(frozen=True, slots=True)
class DriveLine:
    """All drives of one direction of a pair, in the week or on the day; `source` says whence the minutes come."""

    origin_id: int
    origin: str
    destination_id: int
    destination: str
    trips: int
    least_minutes: int
    most_minutes: int
    minutes: int
    miles: Decimal
    source: str

    @property
    def minutes_each(self) -> str:
        """Minutes at the wheel of one drive, or from the shortest to the longest."""
        if self.least_minutes == self.most_minutes:
            return str(self.most_minutes)
        return f"{self.least_minutes} to {self.most_minutes}"


def planned_drives(week: WeekPlan | None) -> list[DayItem]:
    """A week's drives with both ends, in their order; none without a week."""
    rows = DayItem.objects.filter(week=week, kind=DayItem.Kind.DRIVE) if week else DayItem.objects.none()
    rows = rows.exclude(origin=None).exclude(building=None)
    return list(rows.select_related("origin", "building").order_by("date", "start"))


def drive_lines(drives: Iterable[DayItem]) -> tuple[DriveLine, ...]:
    """Drives by their pair and direction, those that are driven most first."""
    by_pair: dict[tuple[Building, Building], list[DayItem]] = defaultdict(list)
    for one in drives:
        if one.origin is not None and one.building is not None:
            by_pair[one.origin, one.building].append(one)
    lines = [_line(origin, destination, trips) for (origin, destination), trips in by_pair.items()]
    return tuple(sorted(lines, key=lambda line: (-line.trips, line.origin, line.destination)))


def _line(origin: Building, destination: Building, trips: Sequence[DayItem]) -> DriveLine:
    known = {source.value for source in LegSource}
    sources = dict.fromkeys(LEG_SOURCE_WORDS[LegSource(one.source)] for one in trips if one.source in known)
    return DriveLine(
        origin_id=origin.pk,
        origin=origin.name,
        destination_id=destination.pk,
        destination=destination.name,
        trips=len(trips),
        least_minutes=min(one.drive_minutes for one in trips),
        most_minutes=max(one.drive_minutes for one in trips),
        minutes=sum(one.drive_minutes for one in trips),
        miles=sum((one.miles for one in trips), Decimal(0)),
        source=", ".join(sources),
    )
