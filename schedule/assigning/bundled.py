"""What is moved as one: services that go to one teacher together, or a student without minutes that week. Pure."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from schedule.assigning.asking import BaseFacts
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.question import Staffing

RIDER = "rider-"


@dataclass(frozen=True, slots=True)
class Movable:
    """Services (ids), or one rider, that go to one teacher together.

    ``students`` by id, each with the teacher of today (``from_whom``); ``minutes`` a week; ``place``: the first of
    its buildings; ``sessions``: each service with its label, its sessions and the minutes of one.
    """

    key: str
    services: tuple[str, ...]
    place: str
    minutes: int
    from_whom: Mapping[str, str]
    sessions: tuple[tuple[str, int, int], ...] = ()

    @property
    def students(self) -> tuple[str, ...]:
        """Their ids."""
        return tuple(self.from_whom)

    @property
    def rider(self) -> str:
        """The student's id, of one without minutes; else empty."""
        return "" if self.services else self.students[0]


def movables(question: Staffing, riders: Mapping[str, Iterable[BaseFacts]]) -> dict[str, Movable]:
    """Everything that can be moved, by key, in the question's order."""
    found = {one.key: one for one in _of_services(question)}
    for teacher, several in riders.items():
        for rider in several:
            key = f"{RIDER}{rider.student}"
            found.setdefault(key, Movable(key, (), rider.place, 0, {rider.student: teacher}))
    return found


def _of_services(question: Staffing) -> Iterator[Movable]:
    for part in bundles(question):
        yield Movable(
            key=part.services[0].id,
            services=tuple(one.id for one in part.services),
            place=part.places[0],
            minutes=part.minutes,
            from_whom={student: one.last or "" for one in part.services for student in one.students},
            sessions=tuple((one.label, one.sessions, one.minutes) for one in part.services),
        )


def with_whom(one: Movable, assignment: Mapping[str, str], riders: Mapping[str, str]) -> str:
    """The teacher's id; empty for nobody. Services that a rule keeps together and somebody parted: the first's."""
    return riders.get(one.rider, "") if one.rider else assignment.get(one.services[0], "")


def hand_overs(
    question: Staffing,
    riders: Mapping[str, Iterable[BaseFacts]],
    assignment: Mapping[str, str],
    riders_now: Mapping[str, str],
) -> dict[tuple[str, str], tuple[str, ...]]:
    """Which students go from whom to whom, by both teachers' ids; whoever stays, or has nobody, isn't in it."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for service in question.services:
        to = assignment.get(service.id, "")
        if service.last and to and service.last != to:
            found.setdefault((service.last, to), {}).update(dict.fromkeys(service.students))
    for giver, several in riders.items():
        for rider in several:
            to = riders_now.get(rider.student, "")
            if to and to != giver:
                found.setdefault((giver, to), {})[rider.student] = None
    return {pair: tuple(students) for pair, students in found.items()}


def students_changing(
    question: Staffing,
    riders: Mapping[str, Iterable[BaseFacts]],
    assignment: Mapping[str, str],
    riders_now: Mapping[str, str],
) -> int:
    """How many students get another teacher; one with services of two fields counts for each that changes."""
    return sum(len(students) for students in hand_overs(question, riders, assignment, riders_now).values())
