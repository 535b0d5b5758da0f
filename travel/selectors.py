"""Reads of the travel floor: the drive times that a teacher's week is planned with."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from accounts.errors import ApplicationError
from accounts.models import Person
from travel.models import Building, OwnDriveTime
from travel.routing.base import Leg, LegSource, Point, Provider, metres_of
from travel.routing.geodesic import GeodesicProvider, estimate_leg, straight_metres

# Nearer than this, two buildings are the same car park, or one has the other's coordinates by mistake.
ONE_PLACE_METRES = 30


@dataclass(frozen=True, slots=True)
class MissingLeg:
    """A pair of buildings without any drive time, and what mends it."""

    origin_id: int
    destination_id: int
    message: str


@dataclass(frozen=True, slots=True)
class DriveTable:
    """Drive times between buildings, by the ids of both; asymmetric where the teacher said so.

    `missing` holds pairs that nobody could answer for: the caller decides whether it can go on without them.
    `warnings` are sentences for the page; they stop nothing.
    """

    building_ids: tuple[int, ...]
    legs: Mapping[tuple[int, int], Leg]
    missing: tuple[MissingLeg, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Whether every pair has a drive time."""
        return not self.missing

    def leg(self, origin_id: int, destination_id: int) -> Leg:
        """The drive from one building to another.

        Raises `ApplicationError` (code ``no_drive_time``) with the remedy if nobody knows it.
        """
        found = self.legs.get((origin_id, destination_id))
        if found is not None:
            return found
        wanted = (origin_id, destination_id)
        for pair in self.missing:
            if (pair.origin_id, pair.destination_id) == wanted:
                raise ApplicationError(pair.message, code="no_drive_time")
        raise KeyError(wanted)

    def minutes(self, origin_id: int, destination_id: int) -> int:
        """Whole minutes at the wheel; raises as `leg` does."""
        return self.leg(origin_id, destination_id).minutes

    def refuse_gaps(self) -> None:
        """Raise `ApplicationError` (code ``no_drive_time``) naming every pair without an answer."""
        if self.missing:
            raise ApplicationError(" ".join(pair.message for pair in self.missing), code="no_drive_time")


def drive_table(teacher: Person, buildings: Iterable[Building], *, provider: Provider | None = None) -> DriveTable:
    """Drive times of one teacher between some buildings of the district.

    The teacher's own minutes always win; a row that counts both ways answers for the way back unless the way
    back has its own row. All else comes from the provider, by default the estimate. A building without
    coordinates is answered for by own minutes only.
    """
    rows = {building.pk: building for building in buildings}
    own = _own_legs(teacher, rows)
    estimates = _provider_legs(rows, provider or GeodesicProvider())
    legs = {pair: _with_distance(leg, estimates.get(pair)) for pair, leg in own.items()}
    pairs = [(origin, destination) for origin in rows for destination in rows]
    for pair in pairs:
        if pair not in legs and pair in estimates:
            legs[pair] = estimates[pair]
    return DriveTable(
        building_ids=tuple(rows),
        legs=legs,
        missing=tuple(_missing(rows[one], rows[other]) for one, other in pairs if (one, other) not in legs),
        warnings=_one_place_warnings(rows),
    )


def point_of(building: Building) -> Point | None:
    """Where a building stands, or None if its coordinates are not known."""
    if building.latitude is None or building.longitude is None:
        return None
    return Point(float(building.latitude), float(building.longitude))


def _own_legs(teacher: Person, rows: Mapping[int, Building]) -> dict[tuple[int, int], Leg]:
    """The teacher's own minutes, the way back filled in where a row counts both ways."""
    entered = OwnDriveTime.objects.filter(
        district=teacher.district, teacher=teacher, origin__in=rows, destination__in=rows
    ).order_by("pk")
    there: dict[tuple[int, int], Leg] = {}
    back: dict[tuple[int, int], Leg] = {}
    for row in entered:
        leg = Leg(
            minutes=row.minutes,
            miles=row.miles,
            metres=None if row.miles is None else metres_of(row.miles),
            source=LegSource.MEASURED_BY_YOU,
        )
        there[row.origin_id, row.destination_id] = leg
        if row.both_ways:
            back[row.destination_id, row.origin_id] = leg
    return back | there


def _provider_legs(rows: Mapping[int, Building], provider: Provider) -> dict[tuple[int, int], Leg]:
    """What the provider answers, and 0 from every building to itself."""
    points = {pk: point for pk, building in rows.items() if (point := point_of(building)) is not None}
    ids = list(points)
    table = provider.table([points[pk] for pk in ids])
    legs = {(ids[i], ids[j]): leg for i, row in enumerate(table) for j, leg in enumerate(row)}
    return {(pk, pk): estimate_leg(0) for pk in rows} | legs


def _with_distance(own: Leg, estimate: Leg | None) -> Leg:
    """Own minutes with the estimate's distance, where the teacher gave none."""
    if own.miles is not None or estimate is None:
        return own
    return Leg(minutes=own.minutes, miles=estimate.miles, metres=estimate.metres, source=own.source)


def _missing(origin: Building, destination: Building) -> MissingLeg:
    """A pair without an answer; names whose coordinates are missing."""
    lacking = [building.name for building in (origin, destination) if not building.has_place]
    if lacking:
        reason = f"{' and '.join(lacking)} {'has' if len(lacking) == 1 else 'have'} no coordinates"
        remedy = "Add latitude and longitude to the building, or enter your own minutes for this pair."
    else:
        reason = "no road was found between them"
        remedy = "Check the coordinates of both, or enter your own minutes for this pair."
    return MissingLeg(
        origin_id=origin.pk,
        destination_id=destination.pk,
        message=f"No drive time from {origin.name} to {destination.name}: {reason}. {remedy}",
    )


def _one_place_warnings(rows: Mapping[int, Building]) -> tuple[str, ...]:
    """A sentence for each two buildings that stand at one place."""
    placed = [(building, point) for building in rows.values() if (point := point_of(building)) is not None]
    return tuple(
        f"{one.name} and {other.name} stand at one place (less than {ONE_PLACE_METRES} metres apart). If they "
        "don't share a campus, correct the coordinates of one of them."
        for index, (one, here) in enumerate(placed)
        for other, there in placed[index + 1 :]
        if straight_metres(here, there) < ONE_PLACE_METRES
    )
