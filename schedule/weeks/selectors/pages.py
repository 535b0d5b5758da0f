"""Reads of the week's pages that are no part of a week itself: whose week, where the buildings lie, who is owed."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import Person, held_ever
from accounts.selectors import today_of
from caseload.plans.models import ServiceLine
from schedule.weeks.models import WeekPlan
from schedule.weeks.strip.from_week import BuildingFacts
from travel.places.models import Building

NO_TEACHER = "There is no teacher here whose weeks you can see."


def teachers_for(viewer: Person) -> QuerySet[Person]:
    """Teachers whose weeks this person may ask for: oneself, mates, the district's, those covered, those who visit.

    Those who can't sign in anymore come last: their past weeks, logs and vouchers stay where they were.
    """
    if viewer.district_id is None:
        return Person.objects.none()
    teachers = Person.objects.filter(held_ever(Person.Role.TEACHER), district_id=viewer.district_id)
    teachers = teachers.order_by("-is_active", "last_name", "first_name", "username")
    if viewer.is_coordinator:
        return teachers
    if viewer.is_teacher:
        return teachers.filter(pk__in={viewer.pk, *(one.person_id for one in viewer.mates)})
    if viewer.role == Person.Role.SUBSTITUTE:
        return teachers.filter(covered_by__substitute=viewer).distinct()
    return teachers.filter(pk__in=WeekPlan.objects.visible_to(viewer).values("teacher"))


def teachers_seen(viewer: Person) -> list[Person]:
    """The same, read; a teacher comes first, and without mates is known already."""
    if not viewer.is_teacher or viewer.district_id is None:
        return list(teachers_for(viewer))
    return [viewer, *teachers_for(viewer).exclude(pk=viewer.pk)] if viewer.mates else [viewer]


def teachers_logged(viewer: Person) -> list[Person]:
    """Those of them whose sessions the viewer logs on some days: not of mates whose team only looks."""
    logged = {one.person_id for one in viewer.mates if one.logs}
    return [one for one in teachers_seen(viewer) if not is_mates(viewer, one) or one.pk in logged]


def is_mates(viewer: Person, teacher: Person) -> bool:
    """Whether what is a teacher's is shown to a mate, who changes nothing of it."""
    return viewer.is_teacher and teacher != viewer


def teacher_among(teachers: Sequence[Person], teacher_id: int | None) -> Person | None:
    """The one asked for among those whom a viewer may see, or the first; None if there is none at all.

    Raises `ApplicationError` (404) for any other.
    """
    if teacher_id is None:
        return next(iter(teachers), None)
    found = next((one for one in teachers if one.pk == teacher_id), None)
    if found is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return found


def teacher_for(viewer: Person, teacher_id: int | None) -> Person | None:
    """The teacher asked for, or the first whom the viewer may see; None if there is none at all.

    Raises `ApplicationError` (404) for a teacher whose weeks this person may not see.
    """
    if viewer.is_teacher:
        return teacher_among(teachers_seen(viewer), teacher_id)
    teachers = teachers_for(viewer)
    if teacher_id is None:
        return teachers.first()
    return teacher_among(list(teachers.filter(pk=teacher_id)), teacher_id)


def district_today(viewer: Person, now: dt.datetime | None = None) -> dt.date:
    """Today where the district is, or the date of a moment there."""
    return today_of(viewer, now)


def office_phones(viewer: Person, building_ids: Iterable[int]) -> dict[int, str]:
    """Phones of the offices of the buildings that the viewer may see, where one is known."""
    rows = Building.objects.visible_to(viewer).filter(pk__in=set(building_ids)).exclude(office_phone="")
    return dict(rows.values_list("pk", "office_phone"))


def building_facts(viewer: Person, building_ids: Iterable[int]) -> dict[int, BuildingFacts]:
    """What a drawing needs of the buildings that the viewer may see."""
    rows = Building.objects.visible_to(viewer).filter(pk__in=set(building_ids))
    return {
        row.pk: BuildingFacts(
            None if row.latitude is None else float(row.latitude),
            None if row.longitude is None else float(row.longitude),
            row.leave_minutes,
        )
        for row in rows
    }


def caseload_is_empty(teacher: Person, first: dt.date, last: dt.date) -> bool:
    """Whether no service line of this teacher is in force between two dates, so that nothing could be planned."""
    return not ServiceLine.objects.filter(provider=teacher).owed_between(first, last).exists()
