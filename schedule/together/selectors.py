"""Reads of plans of several teachers for pages and the API."""

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.words import listed
from schedule.planner.together.shared import parties
from schedule.together.models import TogetherPlan
from schedule.weeks.models import WeekPlan

TO_SUNDAY = dt.timedelta(days=6)


@dataclass(frozen=True, slots=True)
class TogetherWeek:
    """One teacher's draft: minutes at the wheel and minutes not placed, and what they would be planned alone.

    ``week_id`` is None before the plan is made, or where the draft was deleted since.
    """

    teacher_id: int
    teacher: str
    week_id: int | None = None
    status: str = ""
    status_label: str = ""
    driving: int = 0
    driving_alone: int = 0
    unplaced: int = 0
    unplaced_alone: int = 0
    cost: str = ""


@dataclass(frozen=True, slots=True)
class TogetherView:
    """How far a plan is, and what it has found. ``gave_way``: a sentence for each thing that several wanted."""

    plan_id: int
    monday: dt.date
    state: str
    is_over: bool
    stop_asked: bool
    message: str
    error: str
    weeks: tuple[TogetherWeek, ...]
    sums: str = ""
    gave_way: tuple[str, ...] = ()
    proved: bool = False
    drafts: int = 0


@dataclass(frozen=True, slots=True)
class Sharing:
    """Teachers who share buildings or students in a week, so that planning them together may be worth it."""

    teachers: tuple[int, ...]
    names: str
    shared: str


def together_get(viewer: Person, pk: int) -> TogetherPlan:
    """A plan that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    row = (
        TogetherPlan.objects.visible_to(viewer).select_related("job", "district", "asked_by").filter(pk=pk).first()
    )
    if row is None:
        raise ApplicationError("There is no such plan.", code="not_found", status=404)
    return row


def together_view(viewer: Person, row: TogetherPlan) -> TogetherView:
    """What a page shows of a plan."""
    names, found, job = student_names(viewer), row.found, row.job
    weeks = {week.teacher_id: week for week in WeekPlan.objects.filter(pk__in=found.get("weeks", {}).values())}
    lines = tuple(_line(one, weeks.get(one.pk), found) for one in sorted(row.teachers.all(), key=str))
    return TogetherView(
        plan_id=row.pk,
        monday=row.monday,
        state=job.state,
        is_over=job.is_over,
        stop_asked=job.stop_asked,
        message=names.told(str(job.progress.get("message", ""))),
        error=names.told(job.error),
        weeks=lines,
        sums=found.get("sums", ""),
        gave_way=names.all_told(found.get("gave_way", [])),
        proved=bool(found.get("proved", False)),
        drafts=sum(one.status == WeekPlan.Status.DRAFT for one in lines),
    )


def _line(teacher: Person, week: WeekPlan | None, found: dict[str, dict[str, dict[str, int]]]) -> TogetherWeek:
    key = str(teacher.pk)
    if week is None or key not in found.get("now", {}):
        return TogetherWeek(teacher.pk, str(teacher))
    now, own = found["now"][key], found["own"][key]
    costs: list[str] = [one for one in found["costs"] if str(one).startswith(f"{teacher}: ")]
    return TogetherWeek(
        teacher_id=teacher.pk,
        teacher=str(teacher),
        week_id=week.pk,
        status=week.status,
        status_label=week.get_status_display(),
        driving=now["driving"],
        driving_alone=own["driving"],
        unplaced=now["unplaced"],
        unplaced_alone=own["unplaced"],
        cost=costs[0] if costs else "",
    )


def sharing_in(viewer: Person, monday: dt.date) -> list[Sharing]:
    """Teachers of the viewer's district who share a building or a student in a week, joined where they do."""
    lines = ServiceLine.objects.filter(
        plan__student__district=viewer.district_id, provider__role=Person.Role.TEACHER, provider__is_active=True
    ).owed_between(monday, monday + TO_SUNDAY)
    keys: dict[str, set[str]] = defaultdict(set)
    teachers: dict[str, Person] = {}
    buildings: dict[str, str] = {}
    for line in lines.select_related("provider", "plan__student__building"):
        student = line.plan.student
        who = str(line.provider.pk)
        teachers[who] = line.provider
        keys[who] |= {f"student {student.pk}", f"building {student.building_id}"}
        buildings[f"building {student.building_id}"] = student.building.name
    found = [party for party in parties(sorted(keys.items())) if len(party) > 1]
    return [_sharing([teachers[who] for who in one], [keys[who] for who in one], buildings) for one in found]


def _sharing(teachers: list[Person], keys: list[set[str]], buildings: dict[str, str]) -> Sharing:
    ordered = sorted(teachers, key=str)
    shared = _shared_words(keys, buildings)
    return Sharing(tuple(one.pk for one in ordered), listed([str(one) for one in ordered]), listed(shared))


def _shared_words(keys: list[set[str]], buildings: dict[str, str]) -> list[str]:
    """The buildings, and how many students, that more than one of the teachers has."""
    counts = Counter(key for one in keys for key in one)
    twice = [key for key, count in counts.items() if count > 1]
    shared = sorted(buildings[key] for key in twice if key in buildings)
    students = len(twice) - len(shared)
    if students:
        shared.append("1 student" if students == 1 else f"{students} students")
    return shared
