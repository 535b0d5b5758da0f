"""Whose week could be planned, how it stands, and who shares what with whom."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from accounts.models import Person
from caseload.plans.models import ServiceLine, enrollments_of
from schedule.calendar.models import ContractDay, TeacherRules
from schedule.everybody.order import Sharer
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.pages import teachers_for
from travel.places.models import Space

TO_SUNDAY = dt.timedelta(days=6)
NO_HOURS = "No contract hours are entered."
NO_RULES = "Rules for lunch and preparation are missing."


@dataclass(frozen=True, slots=True)
class TeacherStanding:
    """A teacher with minutes owed in a week. ``status``: of the week, empty where there is none yet.

    ``lacks``: what keeps it from being planned, empty if nothing is known to. ``shares_with``: by name.
    """

    teacher_id: int
    teacher: str
    students: int
    status: str
    status_label: str
    lacks: str
    shares_with: tuple[str, ...]

    @property
    def shares_words(self) -> str:
        """Up to two of them by name: in a building that everybody comes to, each shares with all."""
        return few_words(self.shares_with) or "nobody"


def few_words(names: Sequence[str]) -> str:
    """Up to two names, and how many more."""
    if len(names) > 2:
        return f"{names[0]} and {len(names) - 1} more"
    return " and ".join(names)


def sharers_in(viewer: Person, monday: dt.date) -> list[Sharer]:
    """The active teachers of the viewer's district to whom students are owed minutes in a week, by name."""
    teachers = {one.pk: one for one in teachers_for(viewer).filter(is_active=True)}
    lines = ServiceLine.objects.filter(provider__in=teachers, plan__student__district=viewer.district_id)
    lines = lines.owed_between(monday, monday + TO_SUNDAY).order_by("pk")
    where = ("plan__student__building", "plan__student__home_class", "held_in")
    lines = lines.select_related(*where).prefetch_related("plan__student__enrollments")
    with_spaces = set(
        Space.objects.filter(building__district=viewer.district_id).values_list("building", flat=True)
    )
    keys: dict[int, set[str]] = defaultdict(set)
    for line in lines:
        if line.provider_id is not None:
            keys[line.provider_id] |= set(_keys(line, with_spaces))
    sharers = [
        Sharer(pk, str(teachers[pk]), sum(key.startswith("student ") for key in found), frozenset(found))
        for pk, found in keys.items()
    ]
    return sorted(sharers, key=lambda one: (one.name, one.teacher))


def _keys(line: ServiceLine, with_spaces: Collection[int]) -> Iterable[str]:
    """What a line needs: its student, their classes, and the spaces of each building where it may be."""
    student = line.plan.student
    enrolled = enrollments_of(student)
    yield f"student {student.pk}"
    yield from (f"class {one.home_class_id}" for one in enrolled if one.home_class_id is not None)
    if line.pushed_into_id is not None:
        yield f"class {line.pushed_into_id}"
    places = {one.building_id for one in enrolled}
    if line.held_in is not None:
        places.add(line.held_in.building_id)
    yield from (f"building {one}" for one in places if one in with_spaces)


def teachers_standing(viewer: Person, monday: dt.date) -> list[TeacherStanding]:
    """How each teacher's week stands, by name."""
    sharers = sharers_in(viewer, monday)
    weeks = _statuses([one.teacher for one in sharers], monday)
    lacking = lacks_of([one.teacher for one in sharers])
    labels = dict(WeekPlan.Status.choices)
    return [
        TeacherStanding(
            teacher_id=one.teacher,
            teacher=one.name,
            students=one.students,
            status=weeks.get(one.teacher, ""),
            status_label=str(labels.get(weeks.get(one.teacher, ""), "Not planned")),
            lacks=lacking.get(one.teacher, ""),
            shares_with=tuple(other.name for other in sharers if other is not one and other.shares_with(one)),
        )
        for one in sharers
    ]


def lacks_of(teachers: Collection[int]) -> dict[int, str]:
    """Whose week can't be planned for want of hours or rules, with what is missing."""
    with_hours = set(ContractDay.objects.filter(teacher__in=teachers).values_list("teacher", flat=True))
    with_rules = set(TeacherRules.objects.filter(teacher__in=teachers).values_list("teacher", flat=True))
    lacking = {one: NO_RULES for one in teachers if one not in with_rules}
    return lacking | {one: NO_HOURS for one in teachers if one not in with_hours}


def _statuses(teachers: Collection[int], monday: dt.date) -> dict[int, str]:
    """In force where a version is, else a draft where one is."""
    stands = (WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED)
    rows = WeekPlan.objects.filter(teacher__in=teachers, monday=monday, status__in=stands)
    found = sorted(rows.values_list("teacher", "status"), key=lambda row: stands.index(WeekPlan.Status(row[1])))
    return dict(found)
