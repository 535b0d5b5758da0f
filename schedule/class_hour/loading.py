"""The morning's load list: what to put into the car, what each school has, what to bring back.

Pure. A day's stops come in order, each with what its sessions need; what is there is given by place.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

CAR = 0
"""The place number of the car; buildings have their own ids."""

type Counts = Mapping[int, int]


@dataclass(frozen=True, slots=True)
class EquipmentNeed:
    """So many of one kind of equipment, from one moment of the day to another (minutes after midnight)."""

    equipment: int
    count: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Stop:
    """A building that is driven to, with what its sessions need while the teacher is there."""

    building: int
    needs: tuple[EquipmentNeed, ...]

    @property
    def most(self) -> dict[int, int]:
        """How many of each are needed at the same moment at most, by equipment."""
        found: dict[int, int] = {}
        for need in self.needs:
            at_once = sum(
                other.count
                for other in self.needs
                if other.equipment == need.equipment and other.start <= need.start < other.end
            )
            found[need.equipment] = max(found.get(need.equipment, 0), at_once)
        return found


@dataclass(frozen=True, slots=True)
class Taken:
    """So many of one kind, out of one place."""

    equipment: int
    count: int
    place: int


@dataclass(slots=True)
class StopLoad:
    """What to do at one stop. `here`: out of its own closet; `carry_in`: from the car; `pick_up`: take along for a
    later stop; `bring_back`: put back where it stays; `missing`: what nobody has there."""

    building: int
    here: list[Taken] = field(default_factory=list)
    carry_in: list[Taken] = field(default_factory=list)
    pick_up: list[Taken] = field(default_factory=list)
    missing: list[Taken] = field(default_factory=list)


@dataclass(slots=True)
class DayLoad:
    """The whole day: what rides in the car from the morning, stop by stop, and what is to be brought back where."""

    car: dict[int, int] = field(default_factory=dict)
    stops: list[StopLoad] = field(default_factory=list)
    bring_back: list[Taken] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is needed at all."""
        return not any(one.here or one.carry_in or one.missing for one in self.stops)


def load_of_day(stops: Sequence[Stop], stock: Mapping[int, Counts]) -> DayLoad:
    """What each stop takes from where.

    `stock`: usable counts by place and equipment. A school's own closet comes first, then the car, then the closet
    of a school that the day goes to before, from which it is brought back there. The rest is missing.
    """
    day = DayLoad()
    # What was taken along out of a closet rides in the car until the day's end.
    along: dict[tuple[int, int], int] = defaultdict(int)
    for at, stop in enumerate(stops):
        load = StopLoad(stop.building)
        day.stops.append(load)
        for equipment, wanted in stop.most.items():
            left = wanted - _take(load.here, equipment, wanted, stop.building, stock)
            left -= _from_car(day, load, equipment, left, stock)
            left -= _from_closets(day, load, equipment, left, [one.building for one in stops[:at]], along, stock)
            if left:
                load.missing.append(Taken(equipment, left, stop.building))
    day.bring_back = [Taken(equipment, count, place) for (place, equipment), count in along.items() if count]
    return day


def _take(into: list[Taken], equipment: int, wanted: int, place: int, stock: Mapping[int, Counts]) -> int:
    count = min(wanted, stock.get(place, {}).get(equipment, 0))
    if count > 0:
        into.append(Taken(equipment, count, place))
    return max(0, count)


def _from_car(day: DayLoad, load: StopLoad, equipment: int, wanted: int, stock: Mapping[int, Counts]) -> int:
    count = _take(load.carry_in, equipment, wanted, CAR, stock)
    if count:
        day.car[equipment] = max(day.car.get(equipment, 0), count)
    return count


def _from_closets(
    day: DayLoad,
    load: StopLoad,
    equipment: int,
    wanted: int,
    before: Sequence[int],
    along: dict[tuple[int, int], int],
    stock: Mapping[int, Counts],
) -> int:
    """Taken along from schools that were driven to before, the first of them first."""
    got = 0
    for building in dict.fromkeys(before):
        if building == load.building:
            continue
        count = min(wanted - got, stock.get(building, {}).get(equipment, 0))
        if count <= 0:
            continue
        more = count - along[building, equipment]
        if more > 0:
            along[building, equipment] = count
            at = next(one for one in day.stops if one.building == building)
            at.pick_up.append(Taken(equipment, more, building))
        load.carry_in.append(Taken(equipment, count, building))
        got += count
    return got


@dataclass(frozen=True, slots=True)
class ClosetUse:
    """Equipment out of one place, used by one teacher from one moment to another."""

    teacher: int
    place: int
    equipment: int
    count: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class EquipmentClash:
    """More is wanted of one place at one moment than there is. `uses`: those at that moment."""

    place: int
    equipment: int
    wanted: int
    there: int
    uses: tuple[ClosetUse, ...]


def clashes_of(uses: Iterable[ClosetUse], stock: Mapping[int, Counts]) -> tuple[EquipmentClash, ...]:
    """What several teachers want at once beyond what there is: the worst moment of each place and equipment."""
    by_thing: dict[tuple[int, int], list[ClosetUse]] = defaultdict(list)
    for use in uses:
        by_thing[use.place, use.equipment].append(use)
    found = []
    for (place, equipment), among in by_thing.items():
        at_once = max(
            ([other for other in among if other.start <= use.start < other.end] for use in among), key=_sum
        )
        there = stock.get(place, {}).get(equipment, 0)
        if _sum(at_once) > there and len({use.teacher for use in at_once}) > 1:
            found.append(EquipmentClash(place, equipment, _sum(at_once), there, tuple(at_once)))
    return tuple(found)


def _sum(uses: Iterable[ClosetUse]) -> int:
    return sum(use.count for use in uses)
