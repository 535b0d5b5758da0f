"""Which post each teacher has on a day."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from accounts.models import Person, held_from
from schedule.assigning.models import TeacherPost
from schedule.calendar.models import TeacherRules
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class PostFacts:
    """What holds of a teacher on a day. ``share``: percent of a full post."""

    share: int = 100
    base: Building | None = None
    field: str = ""
    not_at: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class TeacherPosts:
    """A teacher with what holds on a day, the post that says so, and those before and after."""

    teacher: Person
    now: PostFacts
    row: TeacherPost | None
    others: tuple[TeacherPost, ...]


def teachers_to_share(viewer: Person, day: dt.date) -> QuerySet[Person]:
    """The teachers of the viewer's district who may serve students from a day on, by name."""
    rows = Person.objects.filter(held_from(day, Person.Role.TEACHER), is_active=True, district=viewer.district_id)
    return rows.order_by("last_name", "first_name", "username")


def posts_on(teachers: Iterable[Person], day: dt.date) -> dict[int, PostFacts]:
    """What holds of each of these teachers on a day, by id. Three queries; the caller has narrowed the teachers."""
    asked = list(teachers)
    latest = {row.teacher_id: row for row in _posts(asked) if row.first_day <= day}
    bases = _usual_bases(asked)
    return {one.pk: _facts(latest.get(one.pk), bases.get(one.pk)) for one in asked}


def posts_listed(viewer: Person, teachers: Iterable[Person], day: dt.date) -> tuple[TeacherPosts, ...]:
    """These teachers, each with the post of a day and those before and after; none but for a coordinator."""
    if not viewer.is_coordinator:
        return ()
    asked = [one for one in teachers if one.district_id == viewer.district_id]
    rows, bases = _posts(asked), _usual_bases(asked)
    return tuple(
        _listed(one, [row for row in rows if row.teacher_id == one.pk], bases.get(one.pk), day) for one in asked
    )


def _listed(teacher: Person, rows: list[TeacherPost], base: Building | None, day: dt.date) -> TeacherPosts:
    row = next((one for one in reversed(rows) if one.first_day <= day), None)
    return TeacherPosts(teacher, _facts(row, base), row, tuple(one for one in rows if one != row))


def _posts(teachers: Iterable[Person]) -> list[TeacherPost]:
    """Of each teacher the earliest first."""
    rows = TeacherPost.objects.filter(teacher__in=list(teachers)).select_related("base").prefetch_related("not_at")
    return list(rows.order_by("teacher", "first_day"))


def _usual_bases(teachers: Iterable[Person]) -> dict[int, Building]:
    """Where the days of each begin by the teacher's rules, if that is said."""
    rows = TeacherRules.objects.filter(teacher__in=list(teachers), start_place__isnull=False)
    return {row.teacher_id: row.start_place for row in rows.select_related("start_place") if row.start_place}


def _facts(row: TeacherPost | None, base: Building | None) -> PostFacts:
    if row is None:
        return PostFacts(base=base)
    never = frozenset(one.pk for one in row.not_at.all())
    return PostFacts(row.share, row.base or base, row.field.strip(), never)
