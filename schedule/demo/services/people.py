"""Whom to ask about the demo's classes and students, and when an aide among them is there."""

import csv
import datetime as dt
from pathlib import Path

from accounts.models import Person
from caseload.care.models import Contact
from caseload.care.services.records import contact_save
from caseload.plans.models import SchoolClass, Student
from schedule.aides.models import AideHours
from schedule.aides.services import aide_hours_save


def contacts_load(teacher: Person, file: Path) -> int:
    """Each contact of the table; how many."""
    students = {one.code: one for one in Student.objects.visible_to(teacher)}
    classes = {one.code: one for one in SchoolClass.objects.visible_to(teacher)}
    with file.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    for row in rows:
        values = {
            "student": students[row["Student"]] if row["Student"] else None,
            "school_class": classes[row["Class"]] if row["Class"] else None,
            **{name: row[name.capitalize()] for name in ("role", "name", "phone", "email", "note")},
        }
        contact = contact_save(actor=teacher, row=Contact(), values=values)
        if row["Hours"]:
            hours = {"first_day": dt.date.fromisoformat(row["From"]), "times": row["Hours"]}
            aide_hours_save(actor=teacher, row=AideHours(contact=contact), values=hours)
    return len(rows)
