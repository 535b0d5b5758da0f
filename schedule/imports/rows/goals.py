"""Rows of goals and of data taken on them to records."""

import re
import uuid
from collections.abc import Mapping
from typing import Any

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import Student
from caseload.progress.models import DataPoint, StudentGoal
from caseload.progress.services import DataTaken, data_import, goal_save
from schedule.imports.files.values import CellError
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import looked_up

PLAIN = ("position", "start", "end", "text", "baseline", "ended_on", "ended_why")
READ = (
    "measure",
    "criterion",
    "wanted",
    "trials",
    "sessions",
    "sessions_of",
    "distance_unit",
    "levels",
    "condition",
)
"""What is read from the text where a row doesn't say it."""


def _student(run: TableRun, row: ParsedRow) -> Student | None:
    return looked_up(run, row, "student", run.lookups.student, row.values["student"])


def write_goals(run: TableRun, rows: list[ParsedRow]) -> None:
    """Goals by student, number and first day; goals before the objectives under them."""
    for row in sorted(rows, key=lambda one: bool(one.get("parent"))):
        student = _student(run, row)
        if student is None:
            continue
        values = model_values(StudentGoal, row, PLAIN) | {name: row.values[name] for name in READ if row.get(name)}
        if row.get("parent") and not _add_parent(run, row, student, values):
            continue
        known = student.goals.filter(position=row.values["position"], start=row.values["start"]).first()
        run.put(row, goal_save, known or StudentGoal(student=student), values)


def _add_parent(run: TableRun, row: ParsedRow, student: Student, values: dict[str, Any]) -> bool:
    """Add the goal that an objective stands under; whether there is one."""
    number = row.values["parent"]
    values["parent"] = (
        student.goals.filter(
            position=number, parent=None, start__lte=row.values["end"], end__gte=row.values["start"]
        )
        .order_by("-start")
        .first()
    )
    if values["parent"] is None:
        message = f"This student has no goal {number} that holds at the same time."
        run.fault(row, "parent", message, "Enter the number of the goal, or bring the goal in a row of its own.")
    return values["parent"] is not None


def goals_named(run: TableRun, text: str) -> list[StudentGoal]:
    """Goals as a cell names them: “MM7 1; JV3 2”, a student's code and the goal's number. Raises CellError."""
    found = []
    for one in filter(None, (part.strip() for part in re.split(r"[;,\n]", text))):
        code, _, number = one.rpartition(" ")
        if not code or not number.isdecimal():
            raise CellError(f"“{one}” names no goal.", "Write a student's code and the goal's number: MM7 1.")
        student = run.lookups.student(code.strip())
        goal = student.goals.filter(position=int(number)).order_by("-start").first() if len(number) < 5 else None
        if goal is None:
            raise CellError(
                f"{student.code} has no goal {number}.", "Enter the number of one of the student's goals."
            )
        found.append(goal)
    return found


def write_goal_data(run: TableRun, rows: list[ParsedRow]) -> None:
    """Data points under ids made of what the row says, so that the same row twice is one point."""
    for row in rows:
        student = _student(run, row)
        goal = _goal(run, row, student) if student is not None else None
        if goal is not None:
            _write_point(run, row, goal)


def _goal(run: TableRun, row: ParsedRow, student: Student) -> StudentGoal | None:
    """The goal of a number that holds on the row's day, else the last one before it."""
    number, day = row.values["position"], row.values["day"]
    begun = student.goals.filter(position=number, start__lte=day).order_by("-start").first()
    found = begun or student.goals.filter(position=number).order_by("start").first()
    if found is None:
        message = f"This student has no goal {number}."
        run.fault(
            row, "position", message, f"Bring the goal that held on {date_words(day)} in the table of goals first."
        )
    return found


def _write_point(run: TableRun, row: ParsedRow, goal: StudentGoal) -> None:
    told = "|".join(str(row.get(name) or "") for name in ("day", "value", "tried", "taken_by_name", "note"))
    client_id = uuid.uuid5(uuid.NAMESPACE_OID, f"goal {goal.pk} {goal.student_id} {told}")
    if DataPoint.objects.filter(client_id=client_id).exists():
        run.tally.same += 1
        return
    taken = DataTaken(
        client_id,
        goal,
        row.values["day"],
        row.values["value"],
        row.get("tried"),
        taken_by_name=row.get("taken_by_name") or "",
        note=row.get("note") or "",
    )

    def store(*, actor: Person, row: DataPoint, values: Mapping[str, Any]) -> DataPoint:
        del row, values
        return data_import(actor=actor, taken=[taken])[0]

    run.save(row, store, DataPoint(goal=goal), {}, ())
