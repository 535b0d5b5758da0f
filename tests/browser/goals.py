"""Two students of the demo's teacher with goals of each kind, one of which has eight weeks of data."""

import datetime as dt
import uuid
from decimal import Decimal

from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.models import Student
from caseload.progress.models import StudentGoal
from caseload.progress.services import DataTaken, data_take, goal_save

TEXTS = (
    "Will catch a bounced ball in 4 of 5 trials.",
    "Will walk 5 laps.",
    "Will stand on one foot for 10 seconds.",
    "Will roll a ball to a partner with a verbal prompt.",
    "Will throw to a target with 80% accuracy.",
    "Will enjoy moving with others.",
)


def make_goals() -> None:
    """Prints the students' ids and the id of the goal with data."""
    teacher = Person.objects.get(username="teacher")
    today = today_of(teacher)
    start = today - dt.timedelta(days=60)
    first, second = Student.objects.visible_to(teacher).order_by("pk")[:2]
    values = {"start": start, "end": today + dt.timedelta(days=120), "baseline": Decimal(1)}
    made = [
        goal_save(actor=teacher, row=StudentGoal(student=student), values={**values, "text": text})
        for student, texts in ((first, TEXTS), (second, TEXTS[:2]))
        for text in texts
    ]
    for week in range(8):
        day = start + dt.timedelta(days=7 * week)
        data_take(actor=teacher, taken=DataTaken(uuid.uuid4(), made[0], day, Decimal(min(1 + week // 2, 4))))
    print(first.pk, second.pk, made[0].pk, made[5].pk)  # noqa: T201 -- the test reads it
