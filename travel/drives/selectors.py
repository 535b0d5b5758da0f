"""Reads of the travel floor: the drive times that a teacher's week is planned with."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations, product

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from travel.drives.engines import BaseLegs, base_legs
from travel.drives.history import DriveHistory, history_of
from travel.drives.lazy import Lazily
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
from travel.places.models import Building
from travel.roads.base import Leg, LegSource, meters_of, whole_minutes
from travel.roads.geodesic import estimate_leg
from travel.roads.models import TravelChoices

HERE = estimate_leg(0)

CHOICES = SqlOnce(lambda district: TravelChoices.objects.filter(district=district))
OWN_TIMES = SqlOnce(
    lambda district, teacher: OwnDriveTime.objects.filter(district=district, teacher=teacher).order_by("pk")
)


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
    clock: Clock = WHOLE_DAY,
) -> DriveTable:
    """Drive times of one teacher between some buildings of the district.

    The teacher's own minutes always win; how sure they are, the drives say. A row that counts both ways answers for
    the way back unless the way back has its own row. Then comes what was learned from the teacher's
    drives, then the road engine, and for pairs that it can't answer, the estimate; a warning says for which and
    why. A building without coordinates is answered for by own minutes and by the teacher's drives only. Each drive
    is worked out when it is asked for.
    """
    sources = _sources(teacher, buildings)
    rows = sources.rows
    found = Lazily(lambda: permutations(rows, 2), lambda pair: _own_or_learned(pair, sources, clock))

    def leg(pair: tuple[int, int]) -> Leg | None:
        if pair[0] == pair[1]:
            return HERE if pair[0] in rows else None
        if sources.is_plain(pair):
            return sources.base.legs.get(pair)
        known = found.get(pair)
        return None if known is None else _planned(*known, sources.percentile)

    def prediction(pair: tuple[int, int]) -> Prediction | None:
        known = found.get(pair)
        return None if known is None else known[1]

    return DriveTable(
        building_ids=tuple(rows),
        legs=Lazily(lambda: product(rows, rows), leg),
        predictions=Lazily(lambda: permutations(rows, 2), prediction),
        distances=Lazily(lambda: permutations(rows, 2), lambda pair: _distance(pair, sources)),
        missing=_gaps(rows, found),
        warnings=sources.base.warnings,
    )


def _gaps(rows: Mapping[int, Building], found: Mapping[tuple[int, int], object]) -> tuple[MissingLeg, ...]:
    """Pairs that nobody can answer for: one of them has no coordinates."""
    lacking = {pk for pk, building in rows.items() if not building.has_place}
    if not lacking:
        return ()
    pairs = (pair for pair in permutations(rows, 2) if lacking & set(pair) and pair not in found)
    return tuple(_missing(rows[one], rows[other]) for one, other in pairs)


def _distance(pair: tuple[int, int], sources: "_Sources") -> Leg | None:
    """How far two buildings are, by the surest word on distance; minutes that were entered say nothing of it."""
    base, own = sources.base.legs.get(pair), sources.own.get(pair)
    if base is not None and base.source is LegSource.ROAD:
        return base
    return own if own is not None and own.miles is not None else base


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
    base: BaseLegs
    history: DriveHistory
    percentile: int | None

    def is_plain(self, pair: tuple[int, int]) -> bool:
        """Whether the engine's minutes of a pair stay as they are: nothing was entered, driven or chosen."""
        changed = self.percentile is not None or bool(self.history.windows)
        return not changed and pair not in self.own and pair not in self.history.drives


def _sources(teacher: Person, buildings: Iterable[Building]) -> _Sources:
    rows = {building.pk: building for building in buildings}
    choices = next(iter(CHOICES(teacher.district_id)), None)
    own = _own_legs(teacher, rows)
    return _Sources(
        rows=rows,
        own=own,
        base=base_legs(rows, choices, own),
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
    entered = OWN_TIMES(teacher.district_id, teacher.pk)
    there: dict[tuple[int, int], Leg] = {}
    back: dict[tuple[int, int], Leg] = {}
    for row in (row for row in entered if row.origin_id in rows and row.destination_id in rows):
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


def _with_distance(own: Leg, estimate: Leg | None) -> Leg:
    """Own minutes with the estimate's distance, where the teacher gave none."""
    if own.miles is not None or estimate is None:
        return own
    return Leg(minutes=own.minutes, miles=estimate.miles, meters=estimate.meters, source=own.source)


def _missing(origin: Building, destination: Building) -> MissingLeg:
    """A pair without an answer; names which building is to blame."""
    lacking = [building.name for building in (origin, destination) if not building.has_place]
    reason = f"{' and '.join(lacking)} {'has' if len(lacking) == 1 else 'have'} no coordinates"
    remedy = "Add latitude and longitude to the building, or enter your own minutes for this pair."
    message = f"No drive time from {origin.name} to {destination.name}: {reason}. {remedy}"
    return MissingLeg(origin_id=origin.pk, destination_id=destination.pk, message=message)
