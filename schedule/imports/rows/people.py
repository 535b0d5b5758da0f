"""Rows of people to records: students, plans with service lines, holds, and the teacher's own rules."""

import datetime as dt
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from accounts.dates import date_words
from accounts.models import Person
from caseload.care.selectors import care_texts
from caseload.care.services import care_texts_save
from caseload.plans.models import Student, StudentHold
from caseload.plans.services import hold_delete, hold_save, student_save
from schedule.calendar.models import ContractDay, Meeting, TeacherRules
from schedule.calendar.services.records import contract_day_save, meeting_delete, meeting_save, teacher_rules_save
from schedule.imports.rows.context import ParsedRow, TableRun, effects_told, model_values
from schedule.imports.rows.lookups import grade_of
from schedule.imports.rows.schools import building_of, grouped, looked_up, slot_values
from travel.drives.models import OwnDriveTime
from travel.drives.services import own_drive_time_save

CARE = ("supports", "cautions")
COUNTED = ("building", "first_day", "last_day")
"""What minutes are counted by, of what a row of students says."""


def _teacher(run: TableRun, row: ParsedRow, name: str = "teacher") -> Person | None:
    """Whose row it is; None with the problem noted."""
    return looked_up(run, row, name, run.lookups.own_teacher, row.get(name))


def write_students(run: TableRun, rows: list[ParsedRow]) -> None:
    """Students by their code."""
    plain = ("code", "first_name", "last_name", "first_day", "last_day")
    written = care_texts([one.pk for one in run.lookups.students_known()])
    for row in rows:
        student = run.lookups.find_student(row.values["code"])
        values = model_values(Student, row, plain) | {
            name: row.get(name, "") for name in CARE if name in row.values
        }
        if student is not None:
            values["code"] = student.code
            if values.get("first_day") is None:
                # An empty cell says nothing about a day that is known: it is no reason to count from the beginning.
                values.pop("first_day", None)
        if _add_student_links(run, row, student, values):
            service = partial(_student_save, row.get("from_day"))
            told = partial(_effects, run, service, student, values, row.get("from_day"))
            known = written.get(student.pk, {}) if student is not None else {}
            run.put(row, service, student or Student(district=run.district), values, told=told, beside=known)


def _effects(
    run: TableRun,
    service: Callable[..., Student],
    student: Student | None,
    values: dict[str, Any],
    from_day: dt.date | None,
) -> list[str]:
    """Another school, first or last day changes what is owed: the preview says from when, and how."""
    if student is None or all(values[name] == getattr(student, name) for name in COUNTED if name in values):
        return []
    act = partial(service, actor=run.actor, row=Student.objects.get(pk=student.pk), values=values)
    since = (f"From {date_words(from_day)}",) if from_day is not None else ()
    return [*since, *effects_told(run.actor, student, act)]


def _student_save(from_day: dt.date | None, *, actor: Person, row: Student, values: Mapping[str, Any]) -> Student:
    """What changes holds from the day of the row's own column; supports and cautions are rows of their own."""
    own = {name: value for name, value in values.items() if name not in CARE}
    saved = student_save(actor=actor, row=row, values={**own, "from_day": from_day})
    care_texts_save(actor=actor, student=saved, texts={name: values[name] for name in CARE if name in values})
    return saved


def _add_student_links(run: TableRun, row: ParsedRow, student: Student | None, values: dict[str, Any]) -> bool:
    """Add grade, building, home class and teacher to the values; whether all of them were found."""
    building = building_of(run, row)
    grade = looked_up(run, row, "grade", grade_of, row.values["grade"])
    if building is None or grade is None:
        return False
    values |= {"building": building, "grade": grade}
    if "home_class" in row.values:
        code = row.get("home_class")
        values["home_class"] = code and looked_up(run, row, "home_class", run.lookups.school_class, building, code)
        if code and values["home_class"] is None:
            return False
    if student is None or row.get("caseload_teacher"):
        teacher = _caseload_teacher(run, row, student)
        if teacher is None:
            return False
        values["caseload_teacher"] = teacher
    return True


def _caseload_teacher(run: TableRun, row: ParsedRow, student: Student | None) -> Person | None:
    """The teacher whom a row names; whoever teaches the student already may stay."""
    name = row.get("caseload_teacher")
    if student is not None and name and student.caseload_teacher.username.casefold() == name.casefold():
        return student.caseload_teacher
    return _teacher(run, row, "caseload_teacher")


def write_student_holds(run: TableRun, rows: list[ParsedRow]) -> None:
    """All times when each student that the file names can't be taken."""
    for group in grouped(rows, run.table.key):
        first = group[0]
        student = looked_up(run, first, "student", run.lookups.student, first.values["student"])
        if student is None:
            continue
        run.replace_set(
            [(row, _hold_values(row)) for row in group],
            student.holds.select_related("student__district"),
            partial(StudentHold, student=student),
            (hold_save, hold_delete),
        )


def _hold_values(row: ParsedRow) -> dict[str, Any]:
    """A hold as the service takes it."""
    dates = {"first_day": row.get("first_day"), "last_day": row.get("last_day")}
    return {**slot_values(row), **dates, "reason": row.values["reason"]}


def write_teacher_rules(run: TableRun, rows: list[ParsedRow]) -> None:
    """One teacher's rules a row."""
    places = ("start_place", "end_place")
    names = [column.name for column in run.table.columns if column.name not in {"teacher", *places}]
    for row in rows:
        teacher = _teacher(run, row)
        if teacher is None:
            continue
        values = model_values(TeacherRules, row, names)
        found = _add_places(run, row, places, values)
        rules = TeacherRules.objects.filter(teacher=teacher).select_related("district").first()
        if found:
            fresh = TeacherRules(district=run.district, teacher=teacher)
            run.put(row, teacher_rules_save, rules or fresh, values)


def _add_places(run: TableRun, row: ParsedRow, names: tuple[str, ...], values: dict[str, Any]) -> bool:
    """Add the buildings that a row names in optional columns; whether all of them were found."""
    good = True
    for name in names:
        if name in row.values:
            values[name] = building_of(run, row, name) if row.get(name) else None
            good = good and not (row.get(name) and values[name] is None)
    return good


def write_contract_days(run: TableRun, rows: list[ParsedRow]) -> None:
    """Contract hours by teacher and weekday."""
    for row in rows:
        teacher = _teacher(run, row)
        if teacher is None:
            continue
        weekday = int(row.values["weekday"])
        found = ContractDay.objects.filter(teacher=teacher, weekday=weekday).select_related("district").first()
        values = {"start": row.values["start"], "end": row.values["end"]}
        fresh = ContractDay(district=run.district, teacher=teacher, weekday=weekday)
        run.put(row, contract_day_save, found or fresh, values)


def write_meetings(run: TableRun, rows: list[ParsedRow]) -> None:
    """All meetings of each teacher that the file names."""
    owners: dict[int, tuple[Person, list[ParsedRow]]] = {}
    for row in rows:
        teacher = _teacher(run, row)
        if teacher is not None:
            owners.setdefault(teacher.pk, (teacher, []))[1].append(row)
    for teacher, group in owners.values():
        wanted = [(row, values) for row in group if (values := _meeting_values(run, row)) is not None]
        saved = Meeting.objects.filter(teacher=teacher).select_related("district", "building")
        make = partial(Meeting, district=run.district, teacher=teacher)
        run.replace_set(wanted, saved, make, (meeting_save, meeting_delete))


def _meeting_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """A meeting as the service takes it; None with the problem noted."""
    weekday, which = row.get("weekday"), row.get("month_place")
    values: dict[str, Any] = {
        "title": row.values["title"],
        "weekday": None if weekday is None else int(weekday),
        "month_place": None if which is None else int(which),
        "date": row.get("date"),
        "start": row.values["start"],
        "end": row.values["end"],
        "building": None,
    }
    return values if _add_places(run, row, ("building",), values) else None


def write_own_drive_times(run: TableRun, rows: list[ParsedRow]) -> None:
    """A teacher's own minutes by pair of buildings."""
    for row in rows:
        teacher = _teacher(run, row)
        origin, destination = building_of(run, row, "origin"), building_of(run, row, "destination")
        if teacher is None or origin is None or destination is None:
            continue
        found = (
            OwnDriveTime.objects.filter(teacher=teacher, origin=origin, destination=destination)
            .select_related("district", "origin", "destination")
            .first()
        )
        fresh = OwnDriveTime(district=run.district, teacher=teacher, origin=origin, destination=destination)
        values = model_values(OwnDriveTime, row, ("minutes", "miles", "both_ways"))
        run.put(row, own_drive_time_save, found or fresh, values)
