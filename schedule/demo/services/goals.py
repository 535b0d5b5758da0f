"""Goals behind the demo, stations that serve them, and data taken on them, one day a week with a session given."""

import csv
import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import Student
from caseload.progress.models import DataPoint, PhaseChange, StudentGoal
from caseload.progress.services.data import DataTaken, data_import
from caseload.progress.services.goals import goal_save, phase_change_save
from schedule.demo.goal_data import days_with_data, figures_of
from schedule.demo.services.log import evening_of
from schedule.stations.models import Station, StationGoal
from schedule.stations.services import station_goal_save

CHANGED = "S03"
"""Whose teaching changed on the way."""

CHANGED_ON, CHANGED_WORDS = dt.date(2026, 10, 19), "A larger ball"
AIDE = "Ms. Quarles"
"""An aide who takes every third one."""


def past_goals_load(teacher: Person, file: Path, first: dt.date, end: dt.date, last: dt.date) -> int:
    """Each goal of the table with its station, and its data up to a last day; how many data points."""
    stations = {one.name: one for one in Station.objects.visible_to(teacher).in_use()}
    students = {one.code: one for one in Student.objects.visible_to(teacher)}
    given = _given_days(teacher, last)
    count = 0
    with file.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            student = students[row["Student"]]
            goal = _goal(teacher, student, row, first, end)
            if row["Station"]:
                served = StationGoal(station=stations[row["Station"]])
                station_goal_save(actor=teacher, row=served, values={"goal": goal})
            if goal.measure:
                count += _data(teacher, goal, row, sorted(given[student.pk]))
            if student.code == CHANGED and last >= CHANGED_ON:
                values = {"day": CHANGED_ON, "words": CHANGED_WORDS}
                phase_change_save(actor=teacher, row=PhaseChange(goal=goal), values=values)
    return count


def _goal(teacher: Person, student: Student, row: Mapping[str, str], first: dt.date, end: dt.date) -> StudentGoal:
    values = {"text": row["Text"], "start": first, "end": end}
    if row["Baseline"]:
        values["baseline"] = Decimal(row["Baseline"])
    return goal_save(actor=teacher, row=StudentGoal(student=student), values=values)


def _given_days(teacher: Person, last: dt.date) -> Mapping[int, set[dt.date]]:
    """By student the days on which a session was given."""
    rows = DeliveryVersion.objects.current().filter(
        entry__student__district=teacher.district, delivered_minutes__gt=0, entry__date__lte=last
    )
    found: dict[int, set[dt.date]] = defaultdict(set)
    for student, day in rows.values_list("entry__student", "entry__date"):
        found[student].add(day)
    return found


def _data(teacher: Person, goal: StudentGoal, row: Mapping[str, str], given: list[dt.date]) -> int:
    days = days_with_data(row["Story"], given)
    figures = figures_of(row["Story"], float(row["From"]), float(row["To"]), days, row["Student"])
    taken = [
        DataTaken(
            client_id=uuid.uuid5(uuid.NAMESPACE_OID, f"demo goal {goal.pk} {day}"),
            goal=goal,
            day=day,
            value=Decimal(figure),
            taken_by_name="" if number % 3 else AIDE,
        )
        for number, (day, figure) in enumerate(figures)
    ]
    if taken:
        data_import(actor=teacher, taken=taken, now=evening_of(teacher, taken[-1].day))
        for one in taken:
            DataPoint.objects.filter(client_id=one.client_id).update(taken_at=evening_of(teacher, one.day))
    return len(taken)
