"""One import under way: parsed rows, what was found wrong, and what each row does to what is saved."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import Field, Model

from accounts.errors import ApplicationError
from accounts.models import District, Person
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import Student
from schedule.imports.files.problems import RowProblem
from schedule.imports.files.reading import TableFile
from schedule.imports.files.values import CellError, parse_cell, write_cell
from schedule.imports.rows.lookups import Lookups
from schedule.imports.tables.columns import Column, ColumnKind, Table

type Service = Callable[..., Any]
type Report = Callable[[int], None]
"""Hears how many rows of all tables are done."""


def nobody_waits(done: int) -> None:
    """For small tables: nobody needs to hear."""
    del done


@dataclass(frozen=True, slots=True)
class ParsedRow:
    """One row with its values by the column's name; columns that the file lacks are not among them."""

    number: int
    values: dict[str, Any]
    cells: dict[str, str]

    def get(self, name: str, otherwise: Any = None) -> Any:
        """A value, or `otherwise` where the cell is empty or the column missing."""
        value = self.values.get(name)
        return otherwise if value is None else value


# Row and column of a service's field.
type Place = Callable[[str], tuple[ParsedRow, str]]


@dataclass(slots=True)
class Tally:
    """How many records a table adds, changes, leaves and takes away."""

    new: int = 0
    changed: int = 0
    same: int = 0
    removed: int = 0


@dataclass(frozen=True, slots=True)
class RowOutcome:
    """What one row does: `new` (with its key), `changed` (with what from what to what), or `removed`.

    For what is removed, `row` is the first row of the set that no longer has it.
    """

    row: int
    action: str
    words: tuple[str, ...] = ()


@dataclass(slots=True)
class TableRun:
    """The work on one table of an import."""

    table: Table
    actor: Person
    district: District
    lookups: Lookups
    problems: list[RowProblem] = field(default_factory=list)
    outcomes: list[RowOutcome] = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)
    report: Report = nobody_waits
    done_before: int = 0
    _seen: set[int] = field(default_factory=set)

    def fault(
        self,
        row: ParsedRow,
        name: str,
        message: str,
        remedy: str,
        *,
        warning: bool = False,
        readings: Iterable[str] = (),
    ) -> None:
        """Note a problem at a column (its name; empty for the whole row)."""
        header = self.table.column(name).header if name else ""
        self.problems.append(
            RowProblem(
                self.table.kind,
                row.number,
                header,
                row.cells.get(name, ""),
                message,
                remedy,
                warning=warning,
                readings=list(readings),
            )
        )

    def cell_fault(self, row: ParsedRow, name: str, error: CellError) -> None:
        """Note a cell that can't be read."""
        self.fault(row, name, error.message, error.remedy, readings=error.readings)

    def refusal(
        self, row: ParsedRow, error: ValidationError | ApplicationError, place: Place | None = None
    ) -> None:
        """Note what a service refused, at the columns of its fields (`place` finds them where names differ)."""
        if isinstance(error, ApplicationError):
            self.fault(row, "", error.message, "Correct this row.")
            return
        by_field = error.error_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.error_list}
        names = {column.name: column for column in self.table.columns}
        for name, errors in by_field.items():
            at, known = place(name) if place else (row, name)
            column = names.get(known)
            remedy = f"{column.header}: {column.help}" if column else "Correct this row."
            for one in errors:
                self.fault(at, known if column else "", one.messages[0], remedy, readings=_readings_of(one))

    def put[M: Model](
        self,
        row: ParsedRow,
        service: Service,
        instance: M,
        values: Mapping[str, Any],
        place: Place | None = None,
        told: Callable[[], Iterable[str]] = tuple,
        beside: Mapping[str, Any] | None = None,
    ) -> M | None:
        """Save a new or a changed record through its service; None if the service refused it.

        `told` says what else a change does, beside what differs. `beside` has what is saved of the values that the
        record itself doesn't hold.
        """
        words = () if instance.pk is None else changed_words(self.table, instance, values, beside or {})
        if instance.pk is not None and not words:
            self.tally.same += 1
            return instance
        return self.save(row, service, instance, values, (*words, *told()) if words else (), place)

    def save[M: Model](
        self,
        row: ParsedRow,
        service: Service,
        instance: M,
        values: Mapping[str, Any],
        words: tuple[str, ...],
        place: Place | None = None,
    ) -> M | None:
        """Save a record that is known to be new or changed; `words` say what changes, or what it opens."""
        is_new = instance.pk is None
        self._seen.add(row.number)
        self.report(self.done_before + len(self._seen))
        try:
            saved: M = service(actor=self.actor, row=instance, values=values)
        except (ValidationError, ApplicationError) as error:
            self.refusal(row, error, place)
            return None
        told = (self.key_words(row), *words) if is_new else words
        self.outcomes.append(RowOutcome(row.number, "new" if is_new else "changed", told))
        if is_new:
            self.tally.new += 1
        else:
            self.tally.changed += 1
        return saved

    def key_words(self, row: ParsedRow) -> str:
        """What identifies a row, in words: `Building code: ELM, Space name: Gym`."""
        cells = [(self.table.column(name).header, row.cells.get(name, "")) for name in self.table.key]
        return ", ".join(f"{header}: {text}" for header, text in cells if text)

    def remove(self, row: ParsedRow, service: Service, instance: Model) -> None:
        """Delete a record of a set that the file restates without it."""
        words = (str(instance),)
        try:
            service(actor=self.actor, row=instance)
        except ApplicationError as error:
            self.refusal(row, error)
            return
        self.outcomes.append(RowOutcome(row.number, "removed", words))
        self.tally.removed += 1

    def replace_set[M: Model](
        self,
        wanted: Iterable[tuple[ParsedRow, dict[str, Any]]],
        saved: Iterable[M],
        make: Callable[[], M],
        services: tuple[Service, Service],
        known_by: tuple[str, ...] = (),
    ) -> None:
        """Make a set of records equal to what the file says: keep the same, add the new, delete the rest.

        One that is alike in the fields of `known_by` is changed, and not deleted and made anew.
        """
        left = list(saved)
        first: ParsedRow | None = None
        fresh: list[tuple[ParsedRow, dict[str, Any]]] = []
        for row, values in wanted:
            first = first or row
            match = next((one for one in left if not changed_words(self.table, one, values)), None)
            if match is None:
                fresh.append((row, values))
            else:
                left.remove(match)
                self.tally.same += 1
        fresh = self._changed_in_place(fresh, left, services[0], known_by)
        for record in left:
            if first is not None:
                self.remove(first, services[1], record)
        for row, values in fresh:
            self.save(row, services[0], make(), values, ())

    def _changed_in_place[M: Model](
        self,
        wanted: list[tuple[ParsedRow, dict[str, Any]]],
        left: list[M],
        service: Service,
        known_by: tuple[str, ...],
    ) -> list[tuple[ParsedRow, dict[str, Any]]]:
        """Change records that are alike in some fields, and take them out of those left; what is wanted beside."""
        fresh: list[tuple[ParsedRow, dict[str, Any]]] = []
        for row, values in wanted:
            alike = (one for one in left if all(_saved(one, name) == values.get(name) for name in known_by))
            found = next(alike, None) if known_by else None
            if found is None:
                fresh.append((row, values))
            else:
                left.remove(found)
                self.put(row, service, found, values)
        return fresh


def effects_told(actor: Person, student: Student, act: Callable[[], object]) -> list[str]:
    """What a change does to a student's minutes, in clauses of a list; nothing where saving refuses it."""
    try:
        return [text.removesuffix(".") for text in effects_foreseen(actor, student, act)]
    except (ValidationError, ApplicationError):
        return []


def _readings_of(error: ValidationError) -> list[str]:
    """What the value may be read as, where a service asks."""
    return [offer["reading"] for offer in (error.params or {}).get("readings", ())]


def parse_rows(run: TableRun, file: TableFile) -> tuple[list[ParsedRow], set[int]]:
    """All rows with the values of the cells that can be read, and the numbers of rows that have other cells.

    The problems of those cells are noted, unless the file noted them already.
    """
    unreadable = {(problem.row, problem.column) for problem in file.problems}
    rows: list[ParsedRow] = []
    bad: set[int] = set()
    for raw in file.rows:
        row = ParsedRow(raw.number, {}, raw.cells)
        rows.append(row)
        for column in run.table.columns:
            if column.name not in raw.cells:
                continue
            if (raw.number, column.header) in unreadable:
                bad.add(raw.number)
                continue
            try:
                value = parse_cell(column, raw.cells[column.name])
                is_place = value is not None and column.kind is ColumnKind.PLACE
                row.values[column.name] = run.lookups.building_code(value) if is_place else value
            except CellError as error:
                run.cell_fault(row, column.name, error)
                bad.add(raw.number)
    return rows, bad


def model_values(model: type[Model], row: ParsedRow, names: Iterable[str]) -> dict[str, Any]:
    """Values for a model's fields from the columns of the same names; empty cells mean the field's default."""
    values: dict[str, Any] = {}
    for name in names:
        if name not in row.values:
            continue
        value = row.values[name]
        if value is None:
            value = empty_value(model, name)
        values[name] = value
    return values


def empty_value(model: type[Model], name: str) -> Any:
    """What an empty cell means for a field: nothing, or the field's default."""
    model_field = model._meta.get_field(name)
    if not isinstance(model_field, Field):
        message = f"{model.__name__}.{name} is no column"
        raise TypeError(message)
    if model_field.null:
        return None
    return model_field.to_python(model_field.get_default()) if model_field.has_default() else ""


def changed_words(
    table: Table, instance: Model, values: Mapping[str, Any], beside: Mapping[str, Any] = MappingProxyType({})
) -> tuple[str, ...]:
    """`Header: before → after` for each value that differs from what is saved, in the record or `beside` it."""
    columns = {column.name: column for column in table.columns}
    words = []
    for name, value in values.items():
        before = beside[name] if name in beside else _saved(instance, name)
        after = sorted(value, key=lambda one: one.pk) if isinstance(value, list | tuple) else value
        if _comparable(before) != _comparable(after):
            column = columns.get(name)
            header = column.header if column is not None else name
            words.append(f"{header}: {_shown(before, column)} → {_shown(after, column)}")
    return tuple(words)


def _saved(instance: Model, name: str) -> Any:
    """A field's value, with many-to-many rows as a list in the order of their keys."""
    if name in {many.name for many in instance._meta.many_to_many}:
        return sorted(getattr(instance, name).all(), key=lambda one: one.pk) if instance.pk else []
    return getattr(instance, name)


def _comparable(value: Any) -> Any:
    """Text without the differences that a spreadsheet makes (line ends, outer spaces)."""
    return value.replace("\r\n", "\n").strip() if isinstance(value, str) else value


def _shown(value: Any, column: Column | None = None) -> str:
    """A value in words, short enough for a line; a choice as a cell says it."""
    if value is None or value == "" or value == []:
        return "empty"
    if column is not None and column.kind is ColumnKind.CHOICE:
        return write_cell(column, value)
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    text = value.strftime("%H:%M") if isinstance(value, dt.time) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
