"""Questions made of a district's: groups, posts and what-ifs. Pure.

A bundle is what the planner can't part; here it also holds its riders, students without minutes that week.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from schedule.planner.assign.question import Itinerant, Staffing
from schedule.planner.problem import Start

NEW = "new"
"""The id of a post that isn't filled yet."""
ENOUGH = 1.02
"""Contract days that are no more than this times a post's share are the share already."""


@dataclass(frozen=True, slots=True)
class BaseFacts:
    """A student without minutes in the week: id, building and marked code."""

    student: str
    place: str
    code: str


@dataclass(frozen=True, slots=True)
class Shareable:
    """A service or a possible group of a teacher's week. ``sessions`` is 0 for a group whose members owe unlike."""

    key: str
    members: tuple[str, ...]
    lines: tuple[int, ...]
    building: int
    school_class: int | None
    minutes: int
    sessions: int
    days_apart: int
    starts: tuple[Start, ...]
    label: str


def grouped(served: Iterable[Shareable]) -> list[Shareable]:
    """Each service once: in the largest groups that can be taken together, the others alone.

    So a teacher's sessions are about as many as the planner will make of them, and students of one group stay
    together. Of groups of one size the first by name is taken.
    """
    every = list(served)
    taken: set[str] = set()
    found: list[Shareable] = []
    groups = [one for one in every if len(one.members) > 1 and one.sessions and one.starts]
    for one in sorted(groups, key=lambda one: (-len(one.members), one.key)):
        if not taken & set(one.members):
            taken |= set(one.members)
            found.append(one)
    return found + [one for one in every if one.members == (one.key,) and one.key not in taken]


def post_minutes(share: int, whole: int, own: int, kept_free: int) -> int | None:
    """Session minutes a week at most by a post's share; None where the contract days are the share already.

    ``share`` is percent of ``whole``, the contract minutes of a full post's week; ``own`` those of the teacher's
    contract days, ``kept_free`` minutes of a day for lunch and preparation.
    """
    target = whole * share // 100
    if own <= target * ENOUGH:
        return None
    return max(0, target - 5 * kept_free * share // 100)


# ---- what if --------------------------------------------------------------------------------------------------


def without(question: Staffing, teacher: str) -> Staffing:
    """The same without a teacher, whose students need somebody else."""
    return replace(question, teachers=tuple(one for one in question.teachers if one.id != teacher))


def with_post(question: Staffing, base: str, name: str, share: int) -> Staffing:
    """The same with one more post at a base: days and field like those of the teacher with the most minutes."""
    like = max(question.teachers, key=lambda one: (one.contract_minutes, one.id))
    days = tuple(replace(day, start_place=base, end_place=base, blocks=()) for day in like.days)
    whole = sum(day.end - day.start for day in days)
    free = max((day.preparation_minutes + (day.lunch.minutes if day.lunch else 0) for day in days), default=0)
    fields = frozenset().union(*(one.fields for one in question.teachers))
    most = post_minutes(share, whole, whole, free)
    post = Itinerant(NEW, name, base, days, fields, most_minutes=most)
    return replace(question, teachers=(*question.teachers, post))


def moved(question: Staffing, services: Iterable[str], place: str) -> Staffing:
    """The same with services at another place, at any of its bells: spaces and periods there aren't known yet."""
    wanted = frozenset(services)
    changed = (replace(one, place=place, starts=()) if one.id in wanted else one for one in question.services)
    return replace(question, services=tuple(changed))


def services_moving(question: Staffing, students: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Ids of the services whose students all move, and of those of which some do: these stay where they are."""
    wanted = frozenset(students)
    whole = tuple(one.id for one in question.services if one.students and wanted.issuperset(one.students))
    some = tuple(one.id for one in question.services if one.id not in whole and not wanted.isdisjoint(one.students))
    return whole, some


def with_staying(question: Staffing, staying: Iterable[str]) -> Staffing:
    """The same with students who stay with their teacher; of those whose teacher isn't there it says nothing."""
    wanted = frozenset(staying)
    mine: dict[str, set[str]] = {}
    for one in question.services:
        if one.last is not None:
            mine.setdefault(one.last, set()).update(wanted & set(one.students))
    teachers = [replace(one, keeps=frozenset(mine.get(one.id, ()))) for one in question.teachers]
    return replace(question, teachers=tuple(teachers))


def today_of_services(question: Staffing) -> dict[str, str]:
    """Who serves whom today, by service."""
    return {one.id: one.last for one in question.services if one.last is not None}


def riders_with(
    riders: Mapping[str, Iterable[BaseFacts]], question: Staffing, assignment: Mapping[str, str]
) -> dict[str, str]:
    """With whom each student without minutes goes: the own teacher, else who has most of the building; by student.

    Nobody where no teacher is in the building.
    """
    minutes: dict[tuple[str, str], int] = {}
    for one in question.services:
        if one.id in assignment:
            key = one.place, assignment[one.id]
            minutes[key] = minutes.get(key, 0) + one.week_minutes
    found: dict[str, str] = {}
    for giver, several in riders.items():
        for rider in several:
            there = {who: much for (place, who), much in minutes.items() if place == rider.place}
            if question.has_teacher(giver):
                found[rider.student] = giver
            elif there:
                found[rider.student] = max(there, key=lambda who: (there[who], who))
    return found
