"""Reads of the travel floor: the drive times that a teacher's week is planned with."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from accounts.errors import ApplicationError
from accounts.models import Person
from travel.drives.history import DriveHistory, history_of
from travel.drives.learning import (
    DriveSample,
    Prediction,
    Sifted,
    own_prediction,
    predict,
    predict_alone,
    predict_worst,
    sift,
)
from travel.drives.models import OwnDriveTime
from travel.drives.time_of_day import DAY_MINUTES, RushWindow, factor_at, factor_within
from travel.places.likely import far_words
from travel.places.models import Building
from travel.places.points import point_of
from travel.places.selectors import placed_of
from travel.roads.base import DriveEstimator, FarPoint, Leg, LegSource, meters_of, whole_minutes
from travel.roads.geodesic import GeodesicEstimator, estimate_leg, straight_meters
from travel.roads.models import TravelChoices
from travel.roads.sources import roads_word

# Nearer than this, two buildings share a parking lot, or one has the other's coordinates by mistake.
ONE_PLACE_METERS = 30


@dataclass(frozen=True, slots=True)
class MissingLeg:
    """A pair of buildings without any drive time, and what fixes it."""

    origin_id: int
    destination_id: int
    message: str


@dataclass(frozen=True, slots=True)
class DriveTable:
    """Drive times between buildings, by the ids of both; asymmetric where the teacher or the roads say so.

    `predictions` say how sure each leg is. `distances` are legs for their miles alone, whose source is that of the
    distance: the roads', else what the teacher entered, else the estimate's.
    `missing` holds pairs that nobody could answer for: the caller decides
    whether it can go on without them.
    `warnings` are sentences for the page; they stop nothing.
    """

    building_ids: tuple[int, ...]
    legs: Mapping[tuple[int, int], Leg]
    predictions: Mapping[tuple[int, int], Prediction] = field(default_factory=dict)
    distances: Mapping[tuple[int, int], Leg] = field(default_factory=dict)
    missing: tuple[MissingLeg, ...] = ()
    warnings: tuple[str, ...] = ()

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
            told = dict.fromkeys(pair.message for pair in self.missing)
            raise ApplicationError(" ".join(told), code="no_drive_time")


@dataclass(frozen=True, slots=True)
class Clock:
    """Which time of day a table is for, in minutes after local midnight.

    `at`: drives that start then. Without it, the longest that a drive takes when it starts from `first` to `last`:
    one table then holds for a whole week.
    """

    at: int | None = None
    first: int = 0
    last: int = DAY_MINUTES - 1


WHOLE_DAY = Clock()


def drive_table(
    teacher: Person,
    buildings: Iterable[Building],
    *,
    estimator: DriveEstimator | None = None,
    clock: Clock = WHOLE_DAY,
) -> DriveTable:
    """Drive times of one teacher between some buildings of the district.

    The teacher's own minutes always win; how sure they are, the drives say. A row that counts both ways answers for
    the way back unless the way back has its own row. Then comes what was learned from the teacher's
    drives, then the road engine, and where no engine could be asked, the estimator. A building that the
    engine finds on no road, and a pair that no road joins, are missing and named: the estimate doesn't hide
    them. A building without coordinates is answered for by own minutes and by the teacher's drives only.
    """
    sources = _sources(teacher, buildings, estimator)
    rows = sources.rows
    legs: dict[tuple[int, int], Leg] = {}
    predictions: dict[tuple[int, int], Prediction] = {}
    pairs = [(origin, destination) for origin in rows for destination in rows]
    for pair in pairs:
        if pair[0] == pair[1]:
            legs[pair] = estimate_leg(0)
            continue
        found = _own_or_learned(pair, sources, clock)
        if found is not None:
            legs[pair], predictions[pair] = _planned(*found, sources.percentile), found[1]
    base = sources.base
    return DriveTable(
        building_ids=tuple(rows),
        legs=legs,
        predictions=predictions,
        distances=dict(_distances(sources)),
        missing=tuple(
            _missing(rows[one], rows[other], base.far) for one, other in pairs if (one, other) not in legs
        ),
        warnings=(*base.warnings, *_one_place_warnings(rows), *far_words(placed_of(rows.values()))),
    )


def _distances(sources: "_Sources") -> Iterator[tuple[tuple[int, int], Leg]]:
    """How far two buildings are, by the surest word on distance; minutes that were entered say nothing of it."""
    for pair in {**sources.base.legs, **sources.own}:
        base, own = sources.base.legs.get(pair), sources.own.get(pair)
        entered = own if own is not None and own.miles is not None else None
        found = base if base is not None and base.source is LegSource.ROAD else entered or base
        if found is not None:
            yield pair, found


def drive_predictions(
    teacher: Person, buildings: Iterable[Building], asked: Iterable[tuple[int, int, int]]
) -> dict[tuple[int, int, int], Prediction]:
    """How sure single drives are: by origin, destination and the minute after local midnight of the start.

    Drives that nobody knows anything of are left out.
    """
    sources = _sources(teacher, buildings)
    found = {ask: _own_or_learned(ask[:2], sources, Clock(at=ask[2])) for ask in asked}
    return {ask: one[1] for ask, one in found.items() if one is not None}


@dataclass(frozen=True, slots=True)
class _Sources:
    """All that is known of some buildings and of a teacher who drives between them."""

    rows: Mapping[int, Building]
    own: Mapping[tuple[int, int], Leg]
    base: "_Base"
    history: DriveHistory
    percentile: int | None


def _sources(teacher: Person, buildings: Iterable[Building], estimator: DriveEstimator | None = None) -> _Sources:
    rows = {building.pk: building for building in buildings}
    choices = TravelChoices.objects.filter(district=teacher.district).first()
    return _Sources(
        rows=rows,
        own=_own_legs(teacher, rows),
        base=_base_legs(rows, choices, estimator or GeodesicEstimator()),
        history=history_of(teacher, rows),
        percentile=choices.drive_percentile if choices is not None else None,
    )


def _own_or_learned(pair: tuple[int, int], sources: _Sources, clock: Clock) -> tuple[Leg, Prediction] | None:
    """A leg by its best source, and how sure it is; None if nobody knows."""
    own, base, history = sources.own.get(pair), sources.base.legs.get(pair), sources.history
    driven = history.drives.get(pair, ())
    if own is not None:
        return _with_distance(own, base), own_prediction(own.minutes, driven, clock.at)
    if base is not None:
        prediction = _predicted(pair, base, history, clock)
        return (replace(base, source=LegSource.LEARNED) if prediction.drives else base), prediction
    alone = predict_alone(driven)
    if alone is None:
        return None
    minutes = max(1, whole_minutes(alone.middle))
    return Leg(minutes=minutes, miles=None, meters=None, source=LegSource.LEARNED), alone


def _predicted(pair: tuple[int, int], base: Leg, history: DriveHistory, clock: Clock) -> Prediction:
    """A leg of an engine, with the factors of the time of day and what the teacher's drives teach."""

    def expected_at(minute: int) -> float:
        return base.wheel_minutes * factor_at(history.windows, pair, minute)

    drives = history.drives.get(pair, ())
    sifted = sift(DriveSample(one.minutes, expected_at(one.start), one.start) for one in drives)
    if clock.at is not None:
        return predict(sifted, expected_at(clock.at), clock.at)
    if not sifted.kept:
        worst = factor_within(history.windows, pair, clock.first, clock.last)
        return predict(sifted, base.wheel_minutes * worst)
    return predict_worst(sifted, expected_at, _times(sifted, history.windows, clock))


def _times(sifted: Sifted, windows: Sequence[RushWindow], clock: Clock) -> list[int]:
    """Times of the day at which a drive may take longest: where the teacher drove, and where factors change."""
    edges = {edge for window in windows for edge in (window.start, window.end)}
    if any(window.covers(clock.first) for window in windows):
        edges.add(clock.first)
    # Drives that began within the same quarter of an hour say the same.
    times = edges | {start // 15 * 15 for start, _ in sifted.kept}
    return sorted(time for time in times if clock.first <= time <= clock.last) or [clock.first]


def _planned(leg: Leg, prediction: Prediction, percentile: int | None) -> Leg:
    """A leg with the minutes to plan with; a teacher's own stay as they are."""
    if leg.source is LegSource.MEASURED_BY_YOU:
        return leg
    exact = prediction.middle if percentile is None else prediction.percentile(percentile)
    return replace(leg, minutes=max(min(leg.minutes, 1), whole_minutes(exact)), exact=exact)


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
            meters=None if row.miles is None else meters_of(row.miles),
            source=LegSource.MEASURED_BY_YOU,
        )
        there[row.origin_id, row.destination_id] = leg
        if row.both_ways:
            back[row.destination_id, row.origin_id] = leg
    return back | there


@dataclass(frozen=True, slots=True)
class _Base:
    """What engines say, before anything that is known of the teacher."""

    legs: Mapping[tuple[int, int], Leg]
    far: Mapping[int, FarPoint] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


def _base_legs(rows: Mapping[int, Building], choices: TravelChoices | None, estimator: DriveEstimator) -> _Base:
    """What the roads say; what the estimator says where no road engine could be asked."""
    points = {pk: point for pk, building in rows.items() if (point := point_of(building)) is not None}
    ids, places = list(points), list(points.values())
    word = roads_word(choices, places)
    if word.answer is not None:
        legs = {(ids[i], ids[j]): leg for (i, j), leg in word.answer.legs.items()}
        return _Base(legs, {ids[one.index]: one for one in word.answer.far}, word.warnings)
    table = estimator.table(places)
    legs = {(ids[i], ids[j]): leg for i, row in enumerate(table) for j, leg in enumerate(row)}
    return _Base(legs, warnings=word.warnings)


def _with_distance(own: Leg, estimate: Leg | None) -> Leg:
    """Own minutes with the estimate's distance, where the teacher gave none."""
    if own.miles is not None or estimate is None:
        return own
    return Leg(minutes=own.minutes, miles=estimate.miles, meters=estimate.meters, source=own.source)


def _missing(origin: Building, destination: Building, far: Mapping[int, FarPoint]) -> MissingLeg:
    """A pair without an answer; names which building is to blame, if one is."""
    lacking = [building.name for building in (origin, destination) if not building.has_place]
    off_road = next((building for building in (origin, destination) if building.pk in far), None)
    if lacking:
        reason = f"{' and '.join(lacking)} {'has' if len(lacking) == 1 else 'have'} no coordinates"
        remedy = "Add latitude and longitude to the building, or enter your own minutes for this pair."
        message = f"No drive time from {origin.name} to {destination.name}: {reason}. {remedy}"
    elif off_road is not None:
        message = _off_road(off_road, far[off_road.pk])
    else:
        message = (
            f"No drive time from {origin.name} to {destination.name}: no road was found between them. "
            "Check the coordinates of both, or enter your own minutes for this pair."
        )
    return MissingLeg(origin_id=origin.pk, destination_id=destination.pk, message=message)


def _off_road(building: Building, far: FarPoint) -> str:
    """One sentence a building, the same for all its pairs."""
    where = "has no road near it" if far.meters is None else f"lies {far.meters:,} meters from the nearest road"
    return (
        f"{building.name} {where} on the map of roads. Correct its coordinates; if the map ends before it, have a "
        "larger extract prepared; or enter your own minutes."
    )


def _one_place_warnings(rows: Mapping[int, Building]) -> tuple[str, ...]:
    """A sentence for each two buildings that stand at one place."""
    placed = [(building, point) for building in rows.values() if (point := point_of(building)) is not None]
    return tuple(
        f"{one.name} and {other.name} are at the same place (less than {ONE_PLACE_METERS} meters apart). If they "
        "don't share a campus, correct the coordinates of one of them."
        for index, (one, here) in enumerate(placed)
        for other, there in placed[index + 1 :]
        if straight_meters(here, there) < ONE_PLACE_METERS
    )
