"""Rows of rotations as the rotations that they are, and the labels that a building's days may be named by."""

from accounts.models.sql_once import SqlOnce
from schedule.calendar.models import DayRotation
from schedule.calendar.rotations import Rotation, RotationKind, RotationPractice, labels_written
from travel.places.models import Building

ROTATIONS = SqlOnce(lambda buildings: DayRotation.objects.filter(building__in=buildings))


def labels_of(row: DayRotation) -> tuple[str, ...]:
    """The labels in order, with the usual ones where the row gives none."""
    return labels_written(RotationKind(row.kind), row.length, row.labels)


def rotation_of(row: DayRotation | None) -> Rotation:
    """A rotation's row as the pure thing; raises ``CalendarError``."""
    labels = () if row is None else labels_of(row)
    if row is None or row.kind == DayRotation.Kind.WEEKDAY:
        return Rotation()
    return Rotation(
        RotationKind(row.kind),
        labels,
        RotationPractice(row.practice),
        row.anchor_date,
        row.anchor_label or next(iter(labels), ""),
    )


def labels_at(building: Building) -> tuple[str, ...]:
    """The labels of a building's rotation; none where its days don't rotate."""
    row = DayRotation.objects.filter(building=building).first()
    return () if row is None else labels_of(row)
