"""What can't be parted: services that go to one teacher together, and who may have them."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from schedule.planner.assign.question import Itinerant, Staffing, YearService


@dataclass(frozen=True, slots=True)
class Bundle:
    """Services of one field that share a student or a class: one teacher has all of them.

    ``allowed``: ids of teachers who may, in the question's order. ``last``: last year's teachers (ids) who are here
    still, by student. ``changes``: how many students, by teacher id, would lose them. ``why_nobody``: in words,
    where nobody may.
    """

    services: tuple[YearService, ...]
    students: frozenset[str]
    allowed: tuple[str, ...]
    last: dict[str, set[str]]
    changes: dict[str, int]
    why_nobody: str = ""

    @property
    def could_keep(self) -> int:
        """Students who have a teacher of last year who is here still."""
        return len(self.last)

    @property
    def minutes(self) -> int:
        """Owed a week."""
        return sum(one.week_minutes for one in self.services)

    @property
    def places(self) -> tuple[str, ...]:
        """Its buildings."""
        return tuple(dict.fromkeys(one.place for one in self.services))


def bundles(question: Staffing) -> tuple[Bundle, ...]:
    """All services, put together as they must be, in the order of their first service."""
    group: dict[str, set[str]] = {}
    owner: dict[tuple[str, str, str], str] = {}
    for service in question.services:
        mine = {service.id}
        for key in _keys(service):
            mine |= group[owner[key]] if key in owner else set()
        group |= dict.fromkeys(mine, mine)
        owner |= dict.fromkeys(_keys(service), service.id)
    parts = [tuple(one for one in question.services if one.id in part) for part in _unique(question, group)]
    return tuple(_bundle(question, part) for part in parts)


def _unique(question: Staffing, group: Mapping[str, set[str]]) -> list[set[str]]:
    return list({id(group[one.id]): group[one.id] for one in question.services}.values())


def _keys(service: YearService) -> list[tuple[str, str, str]]:
    students = [("student", one, service.field) for one in service.students]
    return students if service.klass is None else [*students, ("class", service.klass, service.field)]


def _bundle(question: Staffing, services: tuple[YearService, ...]) -> Bundle:
    students = frozenset(student for one in services for student in one.students)
    able = [teacher for teacher in question.teachers if not reasons_against(teacher, services)]
    keepers = keepers_of(question, students, services[0].field)
    allowed = [one.id for one in able if keepers in ([], [one])]
    last = _last_teachers(question, services)
    changes = {one: _losing(last, one) for one in allowed}
    why = "" if allowed else _why_nobody(question, services, keepers)
    return Bundle(services, students, tuple(allowed), last, changes, why)


def keepers_of(question: Staffing, students: frozenset[str], licensed: str) -> list[Itinerant]:
    """Teachers who are to keep one of these students in a field."""
    return [one for one in question.teachers if students & one.keeps and licensed in one.fields]


def _losing(last: Mapping[str, set[str]], teacher: str) -> int:
    """Students who would lose last year's teacher to this one."""
    return sum(before != {teacher} for before in last.values())


def _last_teachers(question: Staffing, services: tuple[YearService, ...]) -> dict[str, set[str]]:
    """Last year's teachers of each student who had any that is here still."""
    last: dict[str, set[str]] = defaultdict(set)
    for service in services:
        for student in service.students:
            if service.last is not None and question.has_teacher(service.last):
                last[student].add(service.last)
    return dict(last)


def reasons_against(teacher: Itinerant, services: tuple[YearService, ...]) -> list[str]:
    """Why this teacher can't have these services, in words; nothing where all is well. Keeping is no part of it."""
    found: list[str] = []
    for service in services:
        name = service.label or service.id
        if service.field not in teacher.fields:
            found.append(f"{teacher.name} has no license for {name}.")
        if service.place in teacher.not_places:
            found.append(f"{teacher.name} can't work in the building of {name}.")
        if service.id in teacher.not_services:
            found.append(f"{teacher.name} can't have {name}.")
    return found


def _why_nobody(question: Staffing, services: tuple[YearService, ...], kept_by: list[Itinerant]) -> str:
    unable = [reasons for one in kept_by if (reasons := reasons_against(one, services))]
    if unable:
        return " ".join(unable[0])
    if not any(services[0].field in one.fields for one in question.teachers):
        return f"No teacher has a license for {services[0].field}."
    return "Every teacher with the license is ruled out, or two teachers are to keep students who belong together."
