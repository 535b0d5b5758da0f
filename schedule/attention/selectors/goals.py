"""Goals on which no data were taken for a while, by class."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import Student
from caseload.progress.selectors.goals import GoalWaits, goal_rules_on, goals_waiting
from schedule.attention.causes import count_words
from schedule.attention.selectors.rows import AttentionRow, Kind


def waiting_rows(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    """A row for each class (else each school) of a teacher's students with goals that wait for data."""
    students = Student.objects.visible_to(viewer).of_teachers(Person.objects.filter(pk=teacher.pk), today)
    places = {one.pk: _place(one) for one in students.select_related("home_class__building", "building")}
    days = goal_rules_on(teacher.district, today).days_without_data
    by_place: dict[str, list[GoalWaits]] = defaultdict(list)
    for waits in goals_waiting(places, day=today, days=days):
        if waits.goal.measure:
            by_place[places[waits.goal.student_id]].append(waits)
    for place, each in by_place.items():
        yield _row(place, each)


def _place(student: Student) -> str:
    where = student.home_class
    return f"{where}, {where.building}" if where is not None else str(student.building)


def _row(place: str, waiting: list[GoalWaits]) -> AttentionRow:
    """The oldest is the first."""
    goals = count_words(len(waiting), "goal", "goals")
    oldest = min(one.since for one in waiting)
    return AttentionRow(
        Kind.NO_DATA,
        f"{place}: {goals} without data, the oldest since {date_words(oldest)}.",
        oldest,
        things=len(waiting),
        students=_students(waiting),
    )


def _students(waiting: Iterable[GoalWaits]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(one.goal.student_id for one in waiting))
