"""A teacher's load list for a date: what the routines of the day need, and where it is."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import QuerySet

from accounts.models import Person, held_ever
from schedule.calendar.selectors.school_days import time_of
from schedule.calendar.words import clock_words, listed
from schedule.class_hour.data import LoadLine, LoadList, StopView
from schedule.class_hour.loading import (
    CAR,
    ClosetUse,
    DayLoad,
    EquipmentClash,
    EquipmentNeed,
    Stop,
    StopLoad,
    Taken,
    clashes_of,
    load_of_day,
)
from schedule.class_hour.selectors.hours import Hour, hours_of_day
from schedule.equipment.models import Equipment, EquipmentStock
from schedule.stations.selectors.taking_along import station_needs

MIDNIGHT = 24 * 60


def load_list(viewer: Person, teacher: Person, date: dt.date) -> LoadList:
    """What the teacher takes along that day, as far as the viewer sees it."""
    hours = hours_of_day(viewer, teacher, date)
    stations = station_needs(teacher, date)
    stops = stops_of(hours, stations)
    stocks = Stocks(teacher)
    load = load_of_day(stops, stocks.counts(teacher.pk))
    lines = Lines(stocks, {one.session.building_id: one.session.building_name for one in hours})
    return LoadList(
        teacher_name=str(teacher),
        date=date,
        car=tuple(lines.line(Taken(pk, count, CAR)) for pk, count in sorted(load.car.items(), key=lines.by_name)),
        stops=tuple(
            _stop_view(one, hour, lines) for one, hour in zip(load.stops, _first_ofstops_of(hours), strict=True)
        ),
        bring_back=tuple(lines.line(one) for one in load.bring_back),
        clashes=_clashes(teacher, date, uses_of(teacher.pk, stops, load), stocks, lines),
        sessions=len(hours),
        without=sum(one.routine is None and one.session.uid not in stations for one in hours),
    )


# ---- what is needed ----------------------------------------------------------------------------------------


def needs_of(hour: Hour, stations: Mapping[int, int]) -> list[EquipmentNeed]:
    """What a session needs: of each kind as many as the part that takes the most, or as its stations together."""
    kept = {time.key for time in hour.fit.times}
    most = Counter(stations)
    for part in hour.parts.values():
        for need in part.needs.all() if part.pk in kept else ():
            most[need.equipment_id] = max(most[need.equipment_id], need.count)
    return [EquipmentNeed(pk, count, hour.start, hour.end) for pk, count in most.items()]


def _stays(hours: Sequence[Hour]) -> list[list[Hour]]:
    """The day's hours, those of one stay in a building together."""
    found: list[list[Hour]] = []
    for hour in hours:
        if found and found[-1][0].session.building_id == hour.session.building_id:
            found[-1].append(hour)
        else:
            found.append([hour])
    return found


def stops_of(hours: Sequence[Hour], stations: Mapping[str, Mapping[int, int]]) -> list[Stop]:
    found = []
    for stay in _stays(hours):
        needs = [need for hour in stay for need in needs_of(hour, stations.get(hour.session.uid, {}))]
        found.append(Stop(stay[0].session.building_id, tuple(needs)))
    return found


def _first_ofstops_of(hours: Sequence[Hour]) -> list[Hour]:
    return [stay[0] for stay in _stays(hours)]


# ---- what there is -----------------------------------------------------------------------------------------


class Stocks:
    """The district's equipment that is in use, by place."""

    def __init__(self, teacher: Person) -> None:
        rows = EquipmentStock.objects.filter(
            equipment__district=teacher.district, equipment__removed_at__isnull=True
        ).select_related("equipment", "building", "carried_by")
        self.rows = list(rows)
        self.names = dict(Equipment.objects.filter(district=teacher.district).values_list("pk", "name"))

    def counts(self, teacher: int) -> dict[int, dict[int, int]]:
        """Usable counts by place; the car is this teacher's."""
        found: dict[int, dict[int, int]] = defaultdict(dict)
        for row in self.rows:
            if row.building_id is not None or row.carried_by_id == teacher:
                found[row.building_id or CAR][row.equipment_id] = row.usable
        return found

    def closet(self, building: int, equipment: int) -> str:
        """Where in a building it is kept, if that is said."""
        row = next((one for one in self.rows if (one.building_id, one.equipment_id) == (building, equipment)), None)
        return row.place if row is not None else ""

    def elsewhere(self, place: int, equipment: int) -> list[str]:
        """Other places that have some of it to use, as “6 at Larkmoor”, the most first: who might lend it."""
        rows = [one for one in self.rows if one.equipment_id == equipment and one.building_id != place]
        able = sorted((one for one in rows if one.usable > 0), key=lambda one: -one.usable)
        return [f"{one.usable} {'at' if one.building_id else 'in'} {one.where}" for one in able]

    def school(self, building: int) -> str:
        """A building's name, if anything is kept there."""
        return next((str(one.building) for one in self.rows if one.building_id == building), "")


class Lines:
    """Writes what is taken from where."""

    def __init__(self, stocks: Stocks, schools: Mapping[int, str]) -> None:
        self.stocks = stocks
        self.schools = schools

    def by_name(self, entry: tuple[int, int]) -> str:
        """The name of an equipment id with its count, to sort by."""
        return self.stocks.names[entry[0]].casefold()

    def line(self, taken: Taken, *, at: int | None = None) -> LoadLine:
        """With its closet at the place `at`, and with the school elsewhere."""
        where = ""
        if taken.place == at:
            where = self.stocks.closet(taken.place, taken.equipment)
        elif taken.place != CAR:
            where = self.school(taken.place)
        return LoadLine(taken.equipment, self.stocks.names[taken.equipment], taken.count, where)

    def school(self, building: int) -> str:
        """Its name."""
        return self.schools.get(building) or self.stocks.school(building)


def _stop_view(load: StopLoad, first: Hour, lines: Lines) -> StopView:
    def told(taken: Iterable[Taken]) -> tuple[LoadLine, ...]:
        return tuple(lines.line(one, at=load.building) for one in taken)

    return StopView(
        building_id=load.building,
        building_name=first.session.building_name,
        arrive=time_of(first.start),
        here=told(load.here),
        carry_in=told(load.carry_in),
        pick_up=told(load.pick_up),
        missing=told(load.missing),
    )


# ---- in two places at once ---------------------------------------------------------------------------------


def uses_of(teacher: int, stops: Sequence[Stop], load: DayLoad) -> list[ClosetUse]:
    """What one teacher takes out of schools' closets, and for how long."""
    found = []
    for stop, one in zip(stops, load.stops, strict=True):
        start = min((need.start for need in stop.needs), default=0)
        end = max((need.end for need in stop.needs), default=MIDNIGHT)
        found += [ClosetUse(teacher, taken.place, taken.equipment, taken.count, start, end) for taken in one.here]
        # Without needs of its own a stop is passed on the way: what is picked up there is away from then on.
        found += [
            ClosetUse(teacher, taken.place, taken.equipment, taken.count, start, MIDNIGHT) for taken in one.pick_up
        ]
    return found


def mates_with_needs(teacher: Person) -> QuerySet[Person]:
    """Other teachers of the district whose routines take equipment."""
    teaches = held_ever(Person.Role.TEACHER)
    rows = Person.objects.filter(
        teaches, district=teacher.district, is_active=True, routines__parts__needs__isnull=False
    )
    return rows.exclude(pk=teacher.pk).distinct()


def clashes_told(
    teacher: Person, own: Sequence[ClosetUse], mates: Mapping[Person, Sequence[Stop]], stocks: Stocks, lines: Lines
) -> tuple[str, ...]:
    """What a teacher and others want at the same moment out of the same closet on one day, in sentences."""
    uses, names = list(own), {teacher.pk: str(teacher)}
    for mate, stops in mates.items():
        uses += uses_of(mate.pk, stops, load_of_day(stops, stocks.counts(mate.pk)))
        names[mate.pk] = str(mate)
    found = clashes_of(uses, stocks.counts(teacher.pk))
    return tuple(_told(one, names, lines) for one in found if any(use.teacher == teacher.pk for use in one.uses))


def _clashes(
    teacher: Person, date: dt.date, own: Sequence[ClosetUse], stocks: Stocks, lines: Lines
) -> tuple[str, ...]:
    """Those of a date, by everybody's week in force."""
    if not own:
        return ()
    # Each teacher's day is read as that teacher sees it: nothing but equipment is told of it.
    mates = {
        mate: stops_of(hours_of_day(mate, mate, date), station_needs(mate, date))
        for mate in mates_with_needs(teacher)
    }
    return clashes_told(teacher, own, mates, stocks, lines)


def _told(clash: EquipmentClash, names: Mapping[int, str], lines: Lines) -> str:
    who = listed([names[pk] for pk in dict.fromkeys(use.teacher for use in clash.uses)])
    start = max(use.start for use in clash.uses)
    elsewhere = lines.stocks.elsewhere(clash.place, clash.equipment)
    lend = f"Also kept: {listed(elsewhere)}." if elsewhere else "It is kept nowhere else in the district."
    return (
        f"{lines.stocks.names[clash.equipment]} of {lines.school(clash.place)}: {clash.wanted} are wanted at "
        f"{clock_words(start)} by {who}, and {clash.there} can be used. {lend}"
    )
