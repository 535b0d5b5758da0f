"""Reads of routines as they are written."""

import datetime as dt
from collections.abc import Iterable

from django.db.models import Prefetch, Q, QuerySet, prefetch_related_objects
from django.urls import reverse

from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.models import Enrollment, SchoolClass, Student
from caseload.progress.hooks import Practice
from caseload.progress.models import StudentGoal
from schedule.class_hour.fitting import Fit, TimedPart, WhenShort, fit_parts
from schedule.class_hour.models import PartEquipment, Routine, RoutinePart
from schedule.equipment.models import Equipment
from schedule.stations.models import Station

_NEEDS = Prefetch("needs", PartEquipment.objects.select_related("equipment"))
_GOALS = Prefetch("goals", StudentGoal.objects.select_related("student"))
_PARTS = Prefetch(
    "parts",
    RoutinePart.objects.in_use()
    .select_related("activity")
    .prefetch_related(_NEEDS, "activity__caution_tags", _GOALS),
)


def routines_listed(viewer: Person) -> QuerySet[Routine]:
    """The routines in use that the viewer may see, each with its group."""
    rows = Routine.objects.visible_to(viewer).in_use()
    rows = rows.select_related("school_class__building", "teacher", "variant_of")
    return rows.prefetch_related("students").distinct()


def routines_for(viewer: Person) -> QuerySet[Routine]:
    """The same with their parts in order."""
    return routines_listed(viewer).prefetch_related(_PARTS)


def parts_read(routines: Iterable[Routine]) -> None:
    """Read the parts of some routines that were listed, in their order."""
    prefetch_related_objects(list(routines), _PARTS)


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


def goals_offered(viewer: Person, part: RoutinePart, today: dt.date) -> QuerySet[StudentGoal]:
    """The goals that a part can serve, and those that it serves, of students whom the viewer may see.

    They are of the routine's group or class, else of anybody; a variant's students are those of its original. Those
    whose last day is past aren't offered anew.
    """
    of = part.routine.variant_of or part.routine
    group = Student.objects.filter(routines=of)
    now = Q(end__gte=today) & (Q(ended_on__isnull=True) | Q(ended_on__gte=today))
    if group.exists():
        now &= Q(student__in=group)
    elif of.school_class_id is not None:
        now &= Q(student__home_class=of.school_class_id)
    served = StudentGoal.objects.filter(routine_parts=part.pk) if part.pk else StudentGoal.objects.none()
    rows = StudentGoal.objects.visible_to(viewer).filter(now | Q(pk__in=served.values("pk")))
    return rows.select_related("student").order_by("student__last_name", "student__first_name", "position")


def offered_of(
    viewer: Person, row: Routine, teacher: int | None
) -> tuple[QuerySet[Student], QuerySet[SchoolClass]]:
    """Students of a teacher, by id, for a routine, and classes at schools where one of them is; what it has stays.

    Without a teacher nobody: a district has thousands.
    """
    teachers = Person.objects.filter(pk=teacher or 0, district=viewer.district)
    rows = Student.objects.changeable_by(viewer)
    theirs = set(rows.of_teachers(teachers, today_of(viewer)).values_list("pk", flat=True))
    kept = set(row.students.values_list("pk", flat=True)) if row.pk else set()
    places = set(Enrollment.objects.filter(student__in=theirs).values_list("building", flat=True))
    places.update(rows.filter(pk__in=theirs).values_list("building", flat=True))
    classes = SchoolClass.objects.changeable_by(viewer)
    there = classes.filter(Q(building__in=places) | Q(pk=row.school_class_id or 0))
    return rows.filter(pk__in=theirs | kept), there.select_related("building")


def served_seen(viewer: Person, routine: Routine) -> set[int]:
    """The ids of goals that a routine's parts serve, of students whom the viewer may see."""
    rows = StudentGoal.objects.visible_to(viewer).filter(routine_parts__routine=routine)
    return set(rows.values_list("pk", flat=True))


def goal_practiced(viewer: Person, goal: StudentGoal) -> list[Practice]:
    """Parts of routines and stations in use that serve a goal, as far as the viewer may see them."""
    parts = RoutinePart.objects.visible_to(viewer).in_use().filter(goals=goal, routine__removed_at=None)
    rows = Station.objects.visible_to(viewer).filter(goals__goal=goal, removed_at=None)
    return [
        *(
            Practice("Part", f"{one}, {one.routine}", reverse("routine_detail", args=[one.routine_id]))
            for one in parts.select_related("routine", "activity").order_by("routine__name", "position")
        ),
        *(Practice("Station", str(one), reverse("station_detail", args=[one.pk])) for one in rows.order_by("name")),
    ]
