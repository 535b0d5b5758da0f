"""A district's own tables: somebody says once which column is which, and it is remembered for the next time."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person, held_from
from accounts.selectors import today_of
from caseload.plans.models import Student
from schedule.imports.files.grids import Grid
from schedule.imports.files.reading import TableFile, read_grid
from schedule.imports.models import ImportBatch, OwnHeader
from schedule.imports.own.matching import (
    AS_LAST_TIME,
    LEFT_OUT_LAST_TIME,
    SAME_NAME,
    Known,
    LeftOut,
    OwnColumn,
    OwnTable,
    fits,
    plain,
    taken,
    understood,
)
from schedule.imports.own.names import filled, offered
from schedule.imports.tables.columns import Table
from schedule.imports.tables.every import find_table
from travel.places.models import Building

LONGEST_HEADER = 120
SURE = {SAME_NAME, AS_LAST_TIME, LEFT_OUT_LAST_TIME}
NOT_ASKED = "This import doesn't ask which column is which. Send the file again."


def own_table_of(batch: ImportBatch) -> OwnTable:
    """What a file was understood to be. Raises ApplicationError (``not_in_preview``) for one with our headers."""
    own = batch.content.get("own")
    if own is None:
        raise ApplicationError(NOT_ASKED, code="not_in_preview")
    columns = tuple(OwnColumn(**{**one, "samples": tuple(one["samples"])}) for one in own["columns"])
    return OwnTable(own["header"], columns, tuple(LeftOut(**one) for one in own["left_out"]))


def own_table_as_json(filename: str, grid: Grid, own: OwnTable) -> dict[str, Any]:
    """As a batch keeps it while nothing of it is saved."""
    kept = asdict(grid) | {"formulas": sorted(grid.formulas), "broken": sorted(grid.broken)}
    return {"filename": filename, "grid": kept, **asdict(own)}


def own_table_read(
    actor: Person, table: Table, filename: str, grid: Grid
) -> tuple[OwnTable | None, TableFile | None]:
    """How a grid is understood, and its rows where nothing has to be asked.

    The first is nothing for a table with our own headers. The second is nothing where a column's meaning is only
    guessed; where the sender said it of each header at an earlier time, the rows are read so, with a note.
    """
    if fits(table, grid):
        return None, read_grid(table, filename, grid)
    before = dict(OwnHeader.objects.filter(person=actor, kind=table.kind).values_list("header", "column"))
    own = understood(table, grid, _known(actor), before)
    said = all(one.why in SURE for one in own.columns)
    columns = {one.place: one.column for one in own.columns if one.column}
    if not said or grid.hidden or _missing(table, columns.values()):
        return own, None
    note = _told(table, own)
    return own, _rows(table, filename, replace(grid, notices=(*grid.notices, note)), own.header, columns, own)


def _told(table: Table, own: OwnTable) -> str:
    headers = {column.name: column.header for column in offered(table)}
    named = [f"“{one.header}” as {headers[one.column]}" for one in own.columns if one.column]
    gone = [f"“{one.header}”" for one in own.columns if not one.column and one.header]
    rows = [f"row {one.row} ({one.why})" for one in own.left_out]
    left = f" Left out: {', '.join([*gone, *rows])}." if gone or rows else ""
    return f"Read as you said last time: {', '.join(named)}.{left}"


def _rows(
    table: Table, filename: str, grid: Grid, header: int, columns: Mapping[int, str], own: OwnTable
) -> TableFile:
    left_out = {one.row for one in own.left_out}
    return read_grid(table, filename, taken(table, grid, header, columns, left_out))


def own_table_rows(
    *, actor: Person, batch: ImportBatch, columns: Mapping[int, str], left_out: Collection[int]
) -> TableFile:
    """The rows of a file whose columns somebody has named, and what was said of its headers remembered.

    ``columns`` has the name of our column by place; places that it lacks are left out, and so are the rows of
    ``left_out``. What stands above the headers always is. Raises ApplicationError: ``not_in_preview``,
    ``columns_unclear`` (a column that is unknown, given twice or missing).
    """
    own, table = own_table_of(batch), find_table(batch.kind)
    if table is None:
        raise ApplicationError(NOT_ASKED, code="not_in_preview")
    _require_columns(table, own, columns)
    told = batch.content["own"]
    named = tuple(replace(one, column=columns.get(one.place, ""), why="") for one in own.columns)
    rows = tuple(one for one in own.left_out if one.row in left_out or one.row < own.header)
    batch.content["own"] = {
        **told,
        "columns": [asdict(one) for one in named],
        "kept_rows": sorted({one.row for one in own.left_out} - {one.row for one in rows}),
    }
    with transaction.atomic():
        _remember(actor, table, named)
    grid = _grid_from_json(told["grid"])
    return _rows(table, told["filename"], grid, own.header, columns, replace(own, left_out=rows))


def _grid_from_json(stored: Mapping[str, Any]) -> Grid:
    """Back from `own_table_as_json`."""
    return Grid(
        stored["name"],
        tuple((number, tuple(cells)) for number, cells in stored["rows"]),
        frozenset((row, place) for row, place in stored["formulas"]),
        frozenset((row, place) for row, place in stored["broken"]),
        tuple((row, area) for row, area in stored["merged"]),
        tuple(stored["hidden"]),
        tuple(stored["notices"]),
    )


def _remember(actor: Person, table: Table, columns: Sequence[OwnColumn]) -> None:
    rows = {
        header: OwnHeader(district=actor.district, person=actor, kind=table.kind, header=header, column=one.column)
        for one in columns
        if (header := plain(one.header)[:LONGEST_HEADER])
    }
    OwnHeader.objects.bulk_create(
        rows.values(),
        update_conflicts=True,
        unique_fields=["person", "kind", "header"],
        update_fields=["column"],
    )


def _require_columns(table: Table, own: OwnTable, columns: Mapping[int, str]) -> None:
    message = _unclear(table, own, columns)
    if message:
        raise ApplicationError(message, code="columns_unclear", status=422)


def _unclear(table: Table, own: OwnTable, columns: Mapping[int, str]) -> str:
    """What is wrong with the columns as they were named, or nothing."""
    known = {column.name: column.header for column in offered(table)}
    given = Counter(filled(columns.values()))
    if not set(columns) <= {one.place for one in own.columns} or not set(columns.values()) <= set(known):
        return "A column is named that isn't there."
    twice = _quoted(sorted(known[name] for name, times in given.items() if times > 1), " and ")
    if twice:
        return f"Two columns can't both be {twice}: choose one of them."
    missing = _quoted(_missing(table, given), ", ")
    return f"Say which column has {missing}. If none has, add it to your file." if missing else ""


def _quoted(headers: Iterable[str], between: str) -> str:
    return between.join(f"“{header}”" for header in headers)


def _missing(table: Table, names: Collection[str]) -> list[str]:
    return [column.header for column in table.columns if column.required and column.name not in filled(names)]


def _known(actor: Person) -> Known:
    """Codes and names of the district that the sender may see, by the column in which they stand."""
    places = Building.objects.changeable_by(actor).values_list("code", "name")
    teaches = held_from(today_of(actor), Person.Role.TEACHER)
    teachers = Person.objects.filter(teaches, district=actor.district, is_active=True)
    students = Student.objects.changeable_by(actor).values_list("code", flat=True)
    names = frozenset(text.casefold() for both in places for text in both)
    people = frozenset(name.casefold() for name in teachers.values_list("username", flat=True))
    found: dict[str, Collection[str]] = {}
    if names:
        found |= dict.fromkeys(("building", "origin", "destination", "start_place", "end_place"), names)
    if students:
        found["student"] = frozenset(code.casefold() for code in students)
    return found | dict.fromkeys(("teacher", "caseload_teacher"), people) if people else found
