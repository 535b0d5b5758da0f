"""Rows of rotations as the rotations that they are, and the labels that a building's days may be named by."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.db.models import Q

from accounts.models.sql_once import SqlOnce
from accounts.selectors import LastChange, last_change_of, today_in
from caseload.plans.grades import read_grades
from schedule.calendar.calendars import ONE_DAY
from schedule.calendar.models import DayRotation
from schedule.calendar.rotations import Rotation, RotationKind, RotationPractice, labels_written
from travel.places.models import Building

UNDO = "rotation_take_back"
ROTATIONS = SqlOnce(lambda buildings: DayRotation.objects.filter(building__in=buildings))


def labels_of(row: DayRotation) -> tuple[str, ...]:
    """The labels in order, with the usual ones where the row gives none."""
    return labels_written(RotationKind(row.kind), row.length, row.labels)


def rotation_of(row: DayRotation) -> Rotation:
    """A rotation's row as the pure thing; raises ``CalendarError``."""
    grades = read_grades(row.grades) if row.grades else frozenset()
    if row.kind == DayRotation.Kind.WEEKDAY:
        return Rotation(name=row.name, grades=grades, first=row.first_day)
    labels = labels_of(row)
    return Rotation(
        RotationKind(row.kind),
        labels,
        RotationPractice(row.practice),
        row.anchor_date,
        row.anchor_label or next(iter(labels), ""),
        row.name,
        grades,
        row.first_day,
    )


def line_of(row: DayRotation) -> str:
    """What all rows of one rotation share: its name; nothing for the building's own, however that is called."""
    return row.name.casefold() if row.grades else ""


def rotations_of(rows: Iterable[DayRotation]) -> tuple[Rotation, ...]:
    """A building's rotations, its own first: plain weekdays where it has none. Raises ``CalendarError``.

    Each as it is from its last first day on, with what it was before.
    """
    found: dict[str, Rotation] = {"": Rotation()}
    for row in sorted(rows, key=lambda row: (line_of(row), row.first_day or dt.date.min)):
        line, one = line_of(row), rotation_of(row)
        # Plain weekdays stand before a building's own one, but for one without a first day.
        earlier = found.get(line) if one.first is not None else None
        found[line] = replace(one, before=earlier)
    own = found.pop("")
    return (own, *sorted(found.values(), key=lambda one: one.name))


@dataclass(frozen=True, slots=True)
class RotationListed:
    """A row of a rotation as its building's page lists it: its labels, until when it holds, and if that is over."""

    row: DayRotation
    labels: tuple[str, ...]
    last: dt.date | None
    is_over: bool


def rotations_listed(building: Building) -> list[RotationListed]:
    """Every row of the building's rotations, its own first, each rotation's oldest first."""
    rows = DayRotation.objects.filter(building=building)
    every = sorted(rows, key=lambda row: (line_of(row), row.first_day or dt.date.min))
    today, found = today_in(building.district), []
    for place, row in enumerate(every):
        after = every[place + 1] if place + 1 < len(every) and line_of(every[place + 1]) == line_of(row) else None
        last = after.first_day - ONE_DAY if after is not None and after.first_day is not None else None
        found.append(RotationListed(row, labels_of(row), last, last is not None and last < today))
    return found


def rotation_now(building: Building, today: dt.date) -> DayRotation | None:
    """The row of a building's own rotation that holds on a day, else its first one."""
    rows = sorted(building.rotations.filter(grades=""), key=lambda row: row.first_day or dt.date.min)
    held = [row for row in rows if row.first_day is None or row.first_day <= today]
    return held[-1] if held else next(iter(rows), None)


def labels_at(building: Building) -> tuple[str, ...]:
    """The labels of a building's rotations now and later, its own first; none where its days don't rotate."""
    listed = (one for one in rotations_listed(building) if not one.is_over)
    return tuple(dict.fromkeys(label for one in listed for label in one.labels))


def last_rotation_change(building: Building) -> LastChange | None:
    """What was done last to the rotations of a building."""
    gone = Q(changes__building__0=building.pk) | Q(changes__building__1=building.pk)
    rows = building.rotations.values_list("pk", flat=True)
    return last_change_of(DayRotation, building.district, rows, undo=UNDO, about=gone)
