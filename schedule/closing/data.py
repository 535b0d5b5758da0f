"""What pages and the API tell of a month: sums by student, and whom and what a difference is about."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from schedule.closing.content import Content

PARTS = ("entries", "not_logged", "figures")


@dataclass(frozen=True, slots=True)
class MonthSums:
    """What one student's sessions of a month add up to, in minutes; `behind` is still owed at its end."""

    student: int
    sessions: int
    planned: int
    delivered: int
    made_up: int
    not_logged: int
    behind: int


@dataclass(frozen=True, slots=True)
class TermsTold:
    """Names of students, as the viewer may know them, and statements of services, by their ids."""

    students: Mapping[int, str]
    services: Mapping[int, str]

    def student(self, pk: int) -> str:
        """The name, or that the student isn't in sight."""
        return self.students.get(pk, "A student out of your sight")

    def service(self, pk: int) -> str:
        """What the plan says."""
        return self.services.get(pk, "A service that was deleted")


def month_sums(content: Content) -> tuple[MonthSums, ...]:
    """By student, in the order of their ids, those of whom there is anything to say. A log taken back is none."""
    students = sorted({row["student"] for part in PARTS for row in content[part]})
    found = (_sums(student, content) for student in students)
    return tuple(one for one in found if one.sessions or one.not_logged or one.behind)


def _sums(student: int, content: Content) -> MonthSums:
    mine = {part: _of(student, content[part]) for part in PARTS}
    logged = [row for row in mine["entries"] if row["versions"][-1]["delivered"] is not None]
    make_ups = [row for row in logged if row["makes_up"]]
    within = [row for row in logged if not row["makes_up"]]
    return MonthSums(
        student=student,
        sessions=len(logged),
        planned=_planned(within),
        delivered=_delivered(within),
        made_up=_delivered(make_ups),
        not_logged=_planned(mine["not_logged"]),
        behind=sum(row["behind"] for row in mine["figures"]),
    )


def _of(student: int, rows: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [row for row in rows if row["student"] == student]


def _planned(rows: Iterable[Mapping[str, Any]]) -> int:
    return sum(row["planned"] for row in rows)


def _delivered(entries: Iterable[Mapping[str, Any]]) -> int:
    return sum(row["versions"][-1]["delivered"] for row in entries)
