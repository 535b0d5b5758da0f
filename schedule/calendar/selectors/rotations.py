"""Rows of rotations as the rotations that they are, and the labels that a building's days may be named by."""

from collections.abc import Iterable

from accounts.models.sql_once import SqlOnce
from caseload.plans.grades import read_grades
from schedule.calendar.models import DayRotation
from schedule.calendar.rotations import Rotation, RotationKind, RotationPractice, labels_written
from travel.places.models import Building

ROTATIONS = SqlOnce(lambda buildings: DayRotation.objects.filter(building__in=buildings))


def labels_of(row: DayRotation) -> tuple[str, ...]:
    """The labels in order, with the usual ones where the row gives none."""
    return labels_written(RotationKind(row.kind), row.length, row.labels)


def rotation_of(row: DayRotation) -> Rotation:
    """A rotation's row as the pure thing; raises ``CalendarError``."""
    grades = read_grades(row.grades) if row.grades else frozenset()
    if row.kind == DayRotation.Kind.WEEKDAY:
        return Rotation(name=row.name, grades=grades)
    labels = labels_of(row)
    return Rotation(
        RotationKind(row.kind),
        labels,
        RotationPractice(row.practice),
        row.anchor_date,
        row.anchor_label or next(iter(labels), ""),
        row.name,
        grades,
    )


def rotations_of(rows: Iterable[DayRotation]) -> tuple[Rotation, ...]:
    """A building's rotations, its own first: plain weekdays where it has none. Raises ``CalendarError``."""
    every = sorted(map(rotation_of, rows), key=lambda one: (bool(one.grades), one.name))
    return (*([] if every and not every[0].grades else [Rotation()]), *every)


def labels_at(building: Building) -> tuple[str, ...]:
    """The labels of a building's rotations, its own first; none where its days don't rotate."""
    rows = DayRotation.objects.filter(building=building).order_by("grades", "name")
    return tuple(label for row in rows for label in labels_of(row))
