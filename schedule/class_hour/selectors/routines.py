"""Reads of routines as they are written."""

from django.db.models import Prefetch, QuerySet

from accounts.models import Person
from schedule.class_hour.fitting import Fit, TimedPart, WhenShort, fit_parts
from schedule.class_hour.models import PartEquipment, Routine, RoutinePart
from schedule.equipment.models import Equipment

_NEEDS = Prefetch("needs", PartEquipment.objects.select_related("equipment"))
_PARTS = Prefetch(
    "parts",
    RoutinePart.objects.in_use().select_related("activity").prefetch_related(_NEEDS, "activity__caution_tags"),
)


def routines_for(viewer: Person) -> QuerySet[Routine]:
    """The routines in use that the viewer may see, with their parts in order."""
    rows = (
        Routine.objects.visible_to(viewer)
        .in_use()
        .select_related("school_class__building", "teacher", "variant_of")
    )
    return rows.prefetch_related(_PARTS, "students").distinct()


def may_change(viewer: Person, routine: Routine) -> bool:
    """Whether it is the viewer's to change: others copy it."""
    return viewer.has_perm("week.change") and (viewer.is_coordinator or routine.teacher_id == viewer.pk)


def timed_parts(routine: Routine) -> list[TimedPart]:
    """Its parts as the rules of fitting take them."""
    return [
        TimedPart(part.pk, part.minutes, part.least_minutes, WhenShort(part.when_short))
        for part in routine.parts.all()
    ]


def routine_fit(routine: Routine, minutes: int) -> Fit:
    """How it would fit into so many minutes, from minute 0."""
    return fit_parts(timed_parts(routine), 0, minutes)


def known_equipment(viewer: Person) -> dict[str, int]:
    """Ids of the equipment in use by name."""
    return dict(Equipment.objects.visible_to(viewer).in_use().values_list("name", "pk"))
