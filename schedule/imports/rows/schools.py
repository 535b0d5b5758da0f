"""Rows of places to records: buildings, bells, rotations, spaces, classes and their times."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from functools import partial
from typing import Any

from django.db.models import F

from accounts.dates import date_words
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.models import SchoolClass
from caseload.plans.services import school_class_save
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    BellSchedule,
    ClassDayTime,
    ClassMeeting,
    DayRotation,
    SpaceFreeTime,
)
from schedule.calendar.selectors.bells import set_on, usual_first_day
from schedule.calendar.services.bells import bell_schedule_save
from schedule.calendar.services.records import (
    bell_rule_save,
    class_day_delete,
    class_day_save,
    class_meeting_delete,
    class_meeting_save,
    rotation_save,
    space_free_time_delete,
    space_free_time_save,
)
from schedule.imports.files.values import CellError, parse_day
from schedule.imports.rows.context import ParsedRow, TableRun, changed_words, model_values
from travel.places.models import Building, Space
from travel.places.selectors import place_asked
from travel.places.services import building_save, space_save

_DEGREE = Decimal("0.000001")  # 0.1 m: what is kept of coordinates
_PERIOD = ("name", "kind", "start", "end", "grades")


def looked_up[**P, T](
    run: TableRun, row: ParsedRow, name: str, find: Callable[P, T], *args: P.args, **kwargs: P.kwargs
) -> T | None:
    """What `find` finds with its arguments, or None with the problem noted at a column."""
    try:
        return find(*args, **kwargs)
    except CellError as error:
        run.cell_fault(row, name, error)
        return None


def building_of(run: TableRun, row: ParsedRow, name: str = "building") -> Building | None:
    """The building that a row names; None with the problem noted."""
    return looked_up(run, row, name, run.lookups.building, row.values[name])


def grouped(rows: Iterable[ParsedRow], names: Iterable[str]) -> list[list[ParsedRow]]:
    """Rows with the same key together, in the order of the file; capitals don't matter."""
    groups: dict[tuple[str, ...], list[ParsedRow]] = {}
    names = tuple(names)
    for row in rows:
        groups.setdefault(tuple(str(row.values.get(name)).casefold() for name in names), []).append(row)
    return list(groups.values())


def same_in_all(run: TableRun, group: list[ParsedRow], names: Iterable[str]) -> bool:
    """Whether what describes the group is said the same in all of its rows."""
    good = True
    for name in names:
        for row in group[1:]:
            if row.values.get(name) != group[0].values.get(name):
                header = run.table.column(name).header
                message = f"“{header}” differs from row {group[0].number}, which belongs with it."
                run.fault(row, name, message, f"Write the same in all rows that belong together ({header}).")
                good = False
    return good


def write_buildings(run: TableRun, rows: list[ParsedRow]) -> None:
    """Buildings by their code."""
    names = [column.name for column in run.table.columns]
    for row in rows:
        building = run.lookups.find_building(row.values["code"])
        values = model_values(Building, row, names)
        for name in ("latitude", "longitude"):
            if values.get(name) is not None:
                values[name] = values[name].quantize(_DEGREE, ROUND_HALF_UP)
        if building is not None:
            values["code"] = building.code
        _write_building(run, row, building or Building(district=run.district), values)


def _write_building(run: TableRun, row: ParsedRow, building: Building, values: Mapping[str, Any]) -> None:
    """One building, with what there is to look at: coordinates that are missing, or far from all others."""
    question = place_asked(run.district, building, values)
    saved = run.put(row, _building_as_told, building, values)
    if saved is None:
        return
    if question:
        run.fault(row, "latitude", question, "Correct the row, or save it as it is.", warning=True)
    if not saved.has_place:
        message = f"{saved.name} has no coordinates, so no drive to it can be estimated."
        remedy = "Add latitude and longitude, or enter your own drive times."
        run.fault(row, "latitude", message, remedy, warning=True)


def _building_as_told(*, actor: Person, row: Building, values: Mapping[str, Any]) -> Building:
    """Save a building; what is to be asked about its coordinates stands in the preview, beside the row."""
    return building_save(actor=actor, row=row, values={**values, "place_is_right": True})


def write_spaces(run: TableRun, rows: list[ParsedRow]) -> None:
    """Spaces by building and name."""
    for row in rows:
        building = building_of(run, row)
        if building is None:
            continue
        space = run.lookups.find_space(building, row.values["name"])
        values = model_values(Space, row, ("name", "kind", "classes_that_fit", "first_day", "last_day"))
        run.put(row, space_save, space or Space(building=building), values)


def write_classes(run: TableRun, rows: list[ParsedRow]) -> None:
    """Classes by building and code."""
    names = [column.name for column in run.table.columns if column.name != "building"]
    for row in rows:
        building = building_of(run, row)
        if building is None:
            continue
        found = run.lookups.find_class(building, row.values["code"])
        values = model_values(SchoolClass, row, names)
        if found is not None:
            values["code"] = found.code
        run.put(row, school_class_save, found or SchoolClass(building=building), values)


def write_bell_schedules(run: TableRun, rows: list[ParsedRow]) -> None:
    """Whole bell schedules, a row for each period of what rings from a day on."""
    made: dict[tuple[int, str], BellSchedule] = {}
    for group in grouped(rows, run.table.key):
        building = building_of(run, group[0])
        if building is not None and same_in_all(run, group, ("schedule_kind", "passing_minutes")):
            name = group[0].values["schedule"]
            found = made.get((building.pk, name.casefold())) or run.lookups.find_schedule(building, name)
            saved = _write_bell_schedule(run, group, found or BellSchedule(building=building))
            if found is None and saved is not None:
                made[building.pk, name.casefold()] = saved


def _schedule_values(row: ParsedRow) -> dict[str, Any]:
    """What the file says of a schedule itself."""
    values: dict[str, Any] = {}
    if "schedule_kind" in row.values:
        values["kind"] = row.get("schedule_kind", BellSchedule.Kind.REGULAR.value)
    if "passing_minutes" in row.values:
        values["passing_minutes"] = row.get("passing_minutes", 0)
    return values


def _write_bell_schedule(run: TableRun, group: list[ParsedRow], row: BellSchedule) -> BellSchedule | None:
    """One bell schedule with the periods that ring from a day on; None where it is refused."""
    first = group[0]
    values = {"name": row.name or first.values["schedule"], **_schedule_values(first)}
    periods = [_period_values(one) for one in group]
    words = changed_words(run.table, row, values) if row.pk else ()
    values |= {"first_day": first.values["first_day"]} if "first_day" in first.values else {}
    if row.pk:
        words += _set_words(run, row, values, periods)
        if not words:
            run.tally.same += 1
            return row
    saved = {"name": "schedule", "kind": "schedule_kind"}
    inner = {"name": "period", "kind": "period_kind"}
    return run.save(
        first,
        bell_schedule_save,
        row,
        {**values, "periods": periods},
        words,
        place=lambda field: _place_of(field, group, saved, inner),
    )


def _set_words(
    run: TableRun, schedule: BellSchedule, values: Mapping[str, Any], periods: list[dict[str, Any]]
) -> tuple[str, ...]:
    """Which periods go and come from the day on that the file says, in words; none where it rings so."""
    day = values["first_day"] if "first_day" in values else usual_first_day(schedule, today_of(run.actor))
    rung = set_on(schedule, day)
    kept = {_period_key({name: getattr(one, name) for name in _PERIOD}) for one in rung.periods} if rung else set()
    told = _period_words(kept, {_period_key(period) for period in periods})
    return (f"from {date_words(day)} on", *told) if told and day is not None else told


def _place_of(
    field: str, group: list[ParsedRow], outer: Mapping[str, str], inner: Mapping[str, str]
) -> tuple[ParsedRow, str]:
    """Row and column of a service's field such as `kind` or `periods.3.start`."""
    parts = field.split(".")
    if parts[0] != "periods":
        return group[0], outer.get(field, field)
    row = group[int(parts[1])] if len(parts) > 1 else group[0]
    name = parts[2] if len(parts) > 2 else "start"
    return row, inner.get(name, name)


def _period_values(row: ParsedRow) -> dict[str, Any]:
    """One period as the service takes it."""
    return {
        "name": row.values["period"],
        "kind": row.get("period_kind", BellPeriod.Kind.INSTRUCTION.value),
        "start": row.values["start"],
        "end": row.values["end"],
        "grades": row.get("grades", ""),
    }


def _period_key(period: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(str(period[name]) for name in _PERIOD)


def _period_words(kept: set[tuple[str, ...]], now: set[tuple[str, ...]]) -> tuple[str, ...]:
    """Which periods go and come, in words."""
    gone = ", ".join(sorted(f"{one[0]} {one[2][:5]} to {one[3][:5]}" for one in kept - now))
    come = ", ".join(sorted(f"{one[0]} {one[2][:5]} to {one[3][:5]}" for one in now - kept))
    return tuple(words for words in (f"goes: {gone}" if gone else "", f"comes: {come}" if come else "") if words)


def write_rotations(run: TableRun, rows: list[ParsedRow]) -> None:
    """How buildings, and some grades of theirs, count their days."""
    names = ("name", "grades", "first_day", "kind", "length", "labels", "practice", "anchor_date", "anchor_label")
    for row in rows:
        building = building_of(run, row)
        if building is None:
            continue
        run.put(row, rotation_save, _rotation_meant(building, row), model_values(DayRotation, row, names))


def _rotation_meant(building: Building, row: ParsedRow) -> DayRotation:
    """The rotation of that name; a row without grades is about the building's own, however that is called.

    Of a rotation with several first days the one that the row names; a file without that column means the last.
    """
    known = DayRotation.objects.filter(building=building).order_by(F("first_day").desc(nulls_last=True))
    known = known.filter(first_day=row.values["first_day"]) if "first_day" in row.values else known
    name, grades = str(row.get("name") or ""), row.get("grades") or ""
    found = known.filter(name__iexact=name).first() if name or grades else None
    return found or (None if grades else known.filter(grades="").first()) or DayRotation(building=building)


def write_bell_days(run: TableRun, rows: list[ParsedRow]) -> None:
    """Which bells ring on a weekday or a cycle day."""
    for row in rows:
        building = building_of(run, row)
        if building is None:
            continue
        schedule = looked_up(run, row, "schedule", run.lookups.schedule, building, row.values["schedule"])
        day = looked_up(run, row, "day", parse_day, row.values["day"])
        if schedule is None or day is None:
            continue
        rule = BellRule.objects.filter(building=building, day__iexact=day).first() or BellRule(building=building)
        run.put(row, bell_rule_save, rule, {"day": rule.day or day, "schedule": schedule})


def slot_values(row: ParsedRow) -> dict[str, Any]:
    """Days and a period or two times, as all tables of times have them."""
    return {
        "days": row.get("days", ""),
        "period": row.get("period", ""),
        "start": row.get("start"),
        "end": row.get("end"),
    }


def write_space_times(run: TableRun, rows: list[ParsedRow]) -> None:
    """All free times of each space that the file names."""
    for group in grouped(rows, run.table.key):
        first = group[0]
        building = building_of(run, first)
        if building is None:
            continue
        space = looked_up(run, first, "space", run.lookups.space, building, first.values["space"])
        if space is None:
            continue
        run.replace_set(
            [(row, slot_values(row)) for row in group],
            space.free_times.select_related("space__building__district"),
            partial(SpaceFreeTime, space=space),
            (space_free_time_save, space_free_time_delete),
        )


def _by_class(run: TableRun, rows: list[ParsedRow]) -> Iterator[tuple[SchoolClass, list[ParsedRow]]]:
    """The classes that the file names, each with its rows; a row without its class has the problem noted."""
    for group in grouped(rows, run.table.key):
        first = group[0]
        building = building_of(run, first)
        if building is None:
            continue
        code = first.values["school_class"]
        found = looked_up(run, first, "school_class", run.lookups.school_class, building, code)
        if found is not None:
            yield found, group


def write_class_days(run: TableRun, rows: list[ParsedRow]) -> None:
    """All own times of each class that the file names."""
    names = ("kind", "days", "start", "end", "first_day", "last_day")
    for found, group in _by_class(run, rows):
        run.replace_set(
            [(row, model_values(ClassDayTime, row, names)) for row in group],
            ClassDayTime.objects.filter(school_class=found).select_related("school_class__building__district"),
            partial(ClassDayTime, school_class=found),
            (class_day_save, class_day_delete),
        )


def write_class_times(run: TableRun, rows: list[ParsedRow]) -> None:
    """All meetings of each class that the file names."""
    for found, group in _by_class(run, rows):
        building = found.building
        run.replace_set(
            [(row, values) for row in group if (values := _meeting_values(run, row, building)) is not None],
            found.meetings.select_related("school_class__building__district", "space"),
            partial(ClassMeeting, school_class=found),
            (class_meeting_save, class_meeting_delete),
        )


def _meeting_values(run: TableRun, row: ParsedRow, building: Building) -> dict[str, Any] | None:
    """A class's meeting with its space; None with the problem noted."""
    name = row.get("space")
    space = looked_up(run, row, "space", run.lookups.space, building, name) if name else None
    if name and space is None:
        return None
    return {**slot_values(row), "space": space}
