"""Rows of stations to records."""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from caseload.care.models import CautionTag
from schedule.class_hour.needs import needs_read, needs_write
from schedule.class_hour.selectors.routines import known_equipment
from schedule.imports.files.values import write_goals
from schedule.imports.rows.care import tag_named
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.goals import goals_named
from schedule.imports.rows.lessons import activity_named, needs_named
from schedule.imports.rows.schools import looked_up
from schedule.stations.models import Station, StationGoal
from schedule.stations.services import station_save

OF_STATION = ("name", "about", "at_a_time", "staff", "minutes", "space_note")


def write_stations(run: TableRun, rows: list[ParsedRow]) -> None:
    """Stations by their name."""
    tags = {tag.name.casefold(): tag for tag in CautionTag.objects.filter(district=run.district)}
    known = known_equipment(run.actor)
    names = {pk: name for name, pk in known.items()}
    in_use = Station.objects.in_use().filter(district=run.district).defer("picture", "picture_before")
    for row in rows:
        saved = in_use.filter(name__iexact=row.values["name"]).first()
        values = _values(run, row, tags, known)
        if values is None:
            continue
        if saved is not None:
            values["name"] = saved.name
        told = _beside(run, saved, names) if saved is not None else None
        run.put(row, _Told(run, known), saved or Station(district=run.district), values, beside=told)


def _beside(run: TableRun, saved: Station, names: Mapping[int, str]) -> dict[str, str]:
    """What is saved of a station beside its own fields, as a file says it."""
    needs = saved.needs.values_list("equipment", "count")
    goals = StationGoal.objects.visible_to(run.actor).filter(station=saved)
    return {
        "needs": needs_write(sorted((names.get(pk, ""), count) for pk, count in needs)),
        "goals": write_goals(goals.values_list("goal__student__code", "goal__position")),
    }


def _values(
    run: TableRun, row: ParsedRow, tags: dict[str, CautionTag], known: Mapping[str, int]
) -> dict[str, Any] | None:
    """What the file says of a station; None with the problem noted."""
    values: dict[str, Any] = model_values(Station, row, OF_STATION)
    if "tags" in row.values:
        values["tags"] = [looked_up(run, row, "tags", tag_named, tags, one) for one in row.get("tags", ())]
    name = row.get("activity")
    if "activity" in row.values:
        values["activity"] = looked_up(run, row, "activity", activity_named, run, name) if name else None
    if "needs" in row.values:
        values["needs"] = _needs(run, row, known)
    if "goals" in row.values:
        values["goals"] = _goals(run, row)
    refused = None in (*values.get("tags", ()), values.get("needs", ""), values.get("goals", ""))
    return None if refused or (name and values["activity"] is None) else values


def _needs(run: TableRun, row: ParsedRow, known: Mapping[str, int]) -> str | None:
    """Equipment as it is kept to compare; None with the problem noted."""
    found = looked_up(run, row, "needs", needs_named, row.get("needs", "") or "", known)
    names = {pk: name for name, pk in known.items()}
    return None if found is None else needs_write(sorted((names[pk], count) for pk, count in found.items()))


def _goals(run: TableRun, row: ParsedRow) -> str | None:
    """Goals as they are kept to compare; None with the problem noted."""
    found = looked_up(run, row, "goals", goals_named, run, row.get("goals", "") or "")
    return None if found is None else write_goals((one.student.code, one.position) for one in found)


class _Told:
    """Saves a station whose equipment and goals are given as text."""

    def __init__(self, run: TableRun, known: Mapping[str, int]) -> None:
        self.run = run
        self.known = known

    def __call__(self, *, actor: Person, row: Station, values: Mapping[str, Any]) -> Station:
        told = dict(values)
        if "needs" in told:
            told["needs"] = needs_read(told["needs"], self.known)
        if "goals" in told:
            told["goals"] = goals_named(self.run, told["goals"])
        return station_save(actor=actor, row=row, values=told)
