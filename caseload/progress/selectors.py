"""Reads of goals and their data."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection

from django.db.models import Max

from caseload.progress.models import DataPoint, StudentGoal


def goals_of(students: Collection[int], *, day: dt.date) -> dict[int, tuple[StudentGoal, ...]]:
    """The goals and objectives that hold on a date, by student id, in the order of the plan. One query.

    Whoever asks has narrowed `students` to whom the viewer may see. A goal without a `measure` is among them.
    """
    rows = StudentGoal.objects.held_on(day).filter(student__in=students).select_related("student", "parent")
    found: dict[int, list[StudentGoal]] = defaultdict(list)
    for row in rows:
        found[row.student_id].append(row)
    return {student: tuple(goals) for student, goals in found.items()}


def last_taken(goals: Collection[int]) -> dict[int, dt.date]:
    """By goal id the last day on which data were taken on it or on an objective under it; without data, none.

    One query.
    """
    rows = DataPoint.objects.counted().filter(goal__in=goals) | DataPoint.objects.counted().filter(
        goal__parent__in=goals
    )
    own = rows.values_list("goal_id", "goal__parent_id").annotate(last=Max("day"))
    found: dict[int, dt.date] = {}
    for goal, parent, last in own:
        for one in {goal, parent} & set(goals):
            found[one] = max(last, found.get(one, last))
    return found
