"""Goals and data as tests need them. Invented words only."""

import datetime as dt
import uuid
from typing import Any

from accounts.models import Person
from caseload.plans.models import Student
from caseload.progress.models import DataPoint, StudentGoal

START, END = dt.date(2026, 9, 7), dt.date(2027, 5, 28)


def make_goal(student: Student, **values: Any) -> StudentGoal:
    """Four of five trials, unless something else is said."""
    told = {
        "text": "Catch a bounced ball in 4 of 5 trials.",
        "measure": StudentGoal.Measure.TRIALS,
        "trials": 5,
        "criterion": 4,
        "baseline": 1,
        "start": START,
        "end": END,
        **values,
    }
    return StudentGoal.objects.create(student=student, **told)


def make_point(goal: StudentGoal, day: dt.date, value: float, taken_by: Person, **values: Any) -> DataPoint:
    """One data point."""
    told = {"client_id": uuid.uuid4(), "tried": goal.trials, **values}
    return DataPoint.objects.create(goal=goal, day=day, value=value, taken_by=taken_by, **told)
