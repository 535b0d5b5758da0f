"""Rows of posts to records."""

from schedule.assigning.models import TeacherPost
from schedule.assigning.services.posts import post_save
from schedule.imports.files.values import CellError
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import building_of, looked_up
from travel.places.models import Building


def write_posts(run: TableRun, rows: list[ParsedRow]) -> None:
    """Posts by teacher and first day."""
    for row in rows:
        teacher = looked_up(run, row, "teacher", run.lookups.any_teacher, row.values["teacher"])
        values = model_values(TeacherPost, row, ("first_day", "share", "field"))
        if teacher is None or not _add_buildings(run, row, values):
            continue
        rows_of = TeacherPost.objects.filter(teacher=teacher).select_related("district", "base")
        found = rows_of.filter(first_day=row.values["first_day"]).first()
        run.put(row, post_save, found or TeacherPost(district=run.district, teacher=teacher), values)


def _add_buildings(run: TableRun, row: ParsedRow, values: dict[str, object]) -> bool:
    """Add the base and where the teacher never goes, as far as the file has them; whether all were found."""
    if "base" in row.values:
        values["base"] = building_of(run, row, "base") if row.get("base") else None
    if "not_at" in row.values:
        values["not_at"] = looked_up(run, row, "not_at", _buildings, run, row)
    lost = (row.get("base") and values["base"] is None) or values.get("not_at", ()) is None
    return not lost


def _buildings(run: TableRun, row: ParsedRow) -> list[Building]:
    """The buildings of a list. Raises CellError."""
    names = [run.lookups.building_code(name) for name in row.get("not_at", ())]
    found = [run.lookups.building(name) for name in names]
    if len({one.pk for one in found}) < len(found):
        raise CellError("A building is in this list twice.", "Name each building once.")
    return found
