"""Rows of care to records: caution tags, supports, cautions, contacts, aides' hours."""

from functools import partial
from typing import Any

from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.care.services import (
    caution_remove,
    caution_save,
    caution_tag_save,
    contact_remove,
    contact_save,
    support_remove,
    support_save,
)
from caseload.care.written import ON_RECORD
from caseload.plans.models import SchoolClass, Student
from schedule.aides.hours import HoursError, hours_words, read_hours
from schedule.aides.models import AideHours
from schedule.aides.services import aide_hours_remove, aide_hours_save
from schedule.imports.files.values import CellError, nearest
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import building_of, grouped, looked_up

DATED = ("source", "written_on", "first_day", "last_day")


def write_caution_tags(run: TableRun, rows: list[ParsedRow]) -> None:
    """Caution tags by name, without regard to capitals; one that is there stays as it is written there."""
    saved = {tag.name.casefold(): tag for tag in CautionTag.objects.filter(district=run.district)}
    for row in rows:
        found = saved.get(row.values["name"].casefold())
        values = {} if found is not None else {"name": row.values["name"]}
        run.put(row, caution_tag_save, found or CautionTag(district=run.district), values)


def write_supports(run: TableRun, rows: list[ParsedRow]) -> None:
    """All supports of each student that the file names; the record's own text is the table of students'."""
    for group in grouped(rows, ("student",)):
        student = _student(run, group[0])
        if student is not None:
            wanted = [(row, values) for row in group if (values := _support_values(run, row)) is not None]
            saved = student.support_rows.exclude(source=ON_RECORD).select_related(
                "student__district", "other_student"
            )
            run.replace_set(wanted, saved, partial(Support, student=student), (support_save, support_remove))


def _student(run: TableRun, row: ParsedRow) -> Student | None:
    return looked_up(run, row, "student", run.lookups.student, row.values["student"])


def _support_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    values = model_values(Support, row, ("kind", "text", "is_provisional", *DATED))
    code = row.get("other_student")
    other = looked_up(run, row, "other_student", run.lookups.student, code) if code else None
    if code and other is None:
        return None
    return values | {"other_student": other} if _source_is_free(run, row) else None


def _source_is_free(run: TableRun, row: ParsedRow) -> bool:
    """Whether the source isn't the name of the record's own text, which the table of students brings."""
    if row.get("source", "") != ON_RECORD:
        return True
    run.fault(row, "source", f"“{ON_RECORD}” is the text in the table of students.", "Change it there.")
    return False


def write_cautions(run: TableRun, rows: list[ParsedRow]) -> None:
    """All cautions of each student that the file names; the record's own text is the table of students'."""
    tags = {tag.name.casefold(): tag for tag in CautionTag.objects.filter(district=run.district)}
    for group in grouped(rows, ("student",)):
        student = _student(run, group[0])
        if student is not None:
            wanted = [(row, values) for row in group if (values := _caution_values(run, row, tags)) is not None]
            saved = student.caution_rows.exclude(source=ON_RECORD).select_related("student__district")
            run.replace_set(wanted, saved, partial(Caution, student=student), (caution_save, caution_remove))


def _caution_values(run: TableRun, row: ParsedRow, tags: dict[str, CautionTag]) -> dict[str, Any] | None:
    values = model_values(Caution, row, ("kind", "text", "decides", "emergency_steps", *DATED))
    named = row.get("tags", ())
    found = [looked_up(run, row, "tags", tag_named, tags, name) for name in named]
    if None in found or not _source_is_free(run, row):
        return None
    return values | {"tags": [tag for tag in found if tag is not None]}


def tag_named(tags: dict[str, CautionTag], name: str) -> CautionTag:
    """A tag of the district by its name. Raises CellError."""
    if name.casefold() not in tags:
        remedy = f"{nearest(name, [tag.name for tag in tags.values()])} Or add the tag under Caution tags first."
        raise CellError(f"The district has no caution tag “{name}”.", remedy)
    return tags[name.casefold()]


def write_contacts(run: TableRun, rows: list[ParsedRow]) -> None:
    """All contacts of each student and of each class that the file names."""
    for group in grouped(rows, ("student", "building", "school_class")):
        about = _about(run, group[0])
        if about is not None:
            name = "student" if isinstance(about, Student) else "school_class"
            wanted = [
                (row, model_values(Contact, row, ("role", "name", "phone", "email", "note"))) for row in group
            ]
            saved = about.contacts.select_related("student__district", "school_class__building__district")
            run.replace_set(
                wanted, saved, partial(Contact, **{name: about}), (contact_save, contact_remove), ("role", "name")
            )


def write_aide_hours(run: TableRun, rows: list[ParsedRow]) -> None:
    """All hours of each aide that the file names."""
    for group in grouped(rows, run.table.key):
        about = _about(run, group[0])
        aide = _aide(run, group[0], about) if about is not None else None
        if aide is not None:
            wanted = [(row, values) for row in group if (values := _hours_values(run, row)) is not None]
            saved = aide.aide_hours.select_related("contact")
            run.replace_set(wanted, saved, partial(AideHours, contact=aide), (aide_hours_save, aide_hours_remove))


def _aide(run: TableRun, row: ParsedRow, about: Student | SchoolClass) -> Contact | None:
    """The aide whom a row names among the contacts; None with the problem noted."""
    name = row.values["name"]
    aides = list(about.contacts.filter(role=Contact.Role.AIDE))
    found = next((one for one in aides if one.name.casefold() == name.casefold()), None)
    if found is None:
        remedy = f"{nearest(name, [one.name for one in aides])} Or add the aide among the contacts first."
        run.fault(row, "name", f"No aide “{name}” is among these contacts.", remedy)
    return found


def _hours_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """The hours in the words in which they are kept, so that the same ones are known again."""
    try:
        times = hours_words(read_hours(row.get("times", "")))
    except HoursError as error:
        message, _, remedy = str(error).partition(". ")
        run.fault(row, "times", f"{message}.", remedy)
        return None
    return {"first_day": row.values["first_day"], "times": times}


def _about(run: TableRun, row: ParsedRow) -> Student | SchoolClass | None:
    """The student or the class that a row is about; None with the problem noted."""
    if bool(row.get("student")) == bool(row.get("school_class")):
        run.fault(
            row,
            "student",
            "It doesn't say whose contact this is.",
            "Fill the student's code, or building and class.",
        )
        return None
    if row.get("student"):
        return _student(run, row)
    building = building_of(run, row) if row.get("building") else None
    if building is None:
        run.fault(row, "building", "It doesn't say in which building the class is.", "Fill the building's code.")
        return None
    code = row.values["school_class"]
    return looked_up(run, row, "school_class", run.lookups.school_class, building, code)
