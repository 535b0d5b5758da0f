"""Rows of vouchers to records. What was submitted here stays as it is."""

import datetime as dt
import json
from functools import partial
from typing import Any

from accounts.models import Person
from schedule.imports.files.export_mileage import keys_read, voucher_rows, vouchers_of
from schedule.imports.files.values import CellError, parse_cell, write_cell
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import looked_up, same_in_all
from schedule.trips.services.bringing import voucher_bring
from travel.mileage.models import Voucher, VoucherAnswer, VoucherLine, VoucherStep
from travel.places.models import Building

_HEAD = ("status", "reprices", "rules", "submitted_by", "submitted_at", "steps", "answers")
_LINE = (
    "position", "takes_back", "date", "origin", "destination", "purpose", "account_code", "direct_miles",
    "direct_source", "driven_miles", "odometer_before", "odometer_after", "source", "off_chart_percent",
    "off_chart", "miles", "rate", "rate_source", "amount", "total_rounding", "parking", "tolls", "rule", "note",
)  # fmt: skip
_NEEDED = ("date", "miles", "rate", "amount", "parking", "key")
STAYS = "The voucher of {month} is here and says otherwise: what was submitted stays."
CORRECT = "Take its rows out. What is wrong is corrected by a supplement, or after the voucher was returned."


def write_vouchers(run: TableRun, rows: list[ParsedRow]) -> None:
    """Vouchers by driver, month, supplement and edition, each with all its lines."""
    codes = dict(Building.objects.visible_to(run.actor).values_list("pk", "code"))
    for group in _grouped(rows):
        driver = looked_up(run, group[0], "teacher", run.lookups.driver, group[0].values["teacher"])
        if driver is None or not same_in_all(run, group, _HEAD):
            continue
        row = Voucher(district=run.district, teacher=driver, **_known_by(group[0]))
        found = vouchers_of(Voucher.objects.filter(teacher=driver, **_known_by(group[0]))).first()
        if found is None:
            _bring(run, group, row)
        elif _same(run, group, found, codes):
            run.tally.same += len(group)
        else:
            run.fault(group[0], "", STAYS.format(month=found), CORRECT)


def _known_by(row: ParsedRow) -> dict[str, Any]:
    return {
        "month": row.values["month"].replace(day=1),
        "number": row.get("number", 0),
        "edition": row.get("edition", 1),
    }


def _grouped(rows: list[ParsedRow]) -> list[list[ParsedRow]]:
    """The rows of each voucher, those of a month in the order in which they were begun."""
    groups: dict[tuple[Any, ...], list[ParsedRow]] = {}
    for row in rows:
        key = (row.values["teacher"].casefold(), *_known_by(row).values())
        groups.setdefault(key, []).append(row)
    return [groups[key] for key in sorted(groups)]


def _same(run: TableRun, group: list[ParsedRow], found: Voucher, codes: dict[int, str]) -> bool:
    """Whether the rows say what is kept, in the columns that the file has."""
    kept = [_told(run, values) for values in voucher_rows(found, run.table, codes)]
    said = [row.values for row in group]
    names = [name for name in said[0] if name not in {"teacher", "month", "number", "edition"}]
    wanted = sorted(([_plain(one[name]) for name in names] for one in said), key=str)
    return wanted == sorted(([_plain(one[name]) for name in names] for one in kept), key=str)


def _told(run: TableRun, values: dict[str, Any]) -> dict[str, Any]:
    """Values as a file that was exported is read."""
    return {
        column.name: parse_cell(column, write_cell(column, values.get(column.name))) for column in run.table.columns
    }


def _plain(value: Any) -> Any:
    text = value.replace("\r\n", "\n").strip() if isinstance(value, str) else value
    return text or None


def _bring(run: TableRun, group: list[ParsedRow], row: Voucher) -> None:
    """Keep a voucher that isn't here."""
    head = group[0]
    values = looked_up(run, head, "submitted_at", _head, run, head)
    steps = looked_up(run, head, "steps", _steps, run, head)
    answers = looked_up(run, head, "answers", _answers, run, head)
    lines = [_line(run, one) for one in group if one.get("position") is not None]
    if values is None or steps is None or answers is None or None in lines:
        return
    for name, value in values.items():
        setattr(row, name, value)
    service = partial(_save, lines=lines, steps=steps, answers=answers)
    run.save(head, service, row, {}, ())


def _save(*, actor: Person, row: Voucher, values: dict[str, Any], **parts: Any) -> Voucher:
    del values
    return voucher_bring(actor=actor, row=row, **parts)


def _head(run: TableRun, row: ParsedRow) -> dict[str, Any]:
    """What a voucher says of itself. Raises CellError."""
    by = row.get("submitted_by")
    return {
        **model_values(Voucher, row, ("status", "rules")),
        "reprices": row.get("reprices", False),
        "submitted_by": run.lookups.somebody(by) if by else None,
        "submitted_at": _moment(row.get("submitted_at", "")),
    }


def _moment(text: str) -> dt.datetime | None:
    """A moment in UTC. Raises CellError."""
    if not text:
        return None
    try:
        found = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise CellError(f"“{text}” is no moment.", "Write it like 2026-11-02T14:05:00+00:00.") from error
    return found if found.tzinfo is not None else found.replace(tzinfo=dt.UTC)


def _steps(run: TableRun, row: ParsedRow) -> list[VoucherStep]:
    """What became of a voucher. Raises CellError."""
    return [_step(run, line) for line in row.get("steps", "").splitlines() if line.strip()]


def _step(run: TableRun, line: str) -> VoucherStep:
    parts = [one.strip() for one in line.split(";", 3)]
    status = parts[0].removeprefix("undone ").strip()
    at = _moment(parts[1]) if len(parts) > 2 else None
    if at is None or status not in Voucher.Status.values:
        message = f"“{line}” can't be read."
        raise CellError(message, "Write it like: approved; 2026-11-03T14:00:00+00:00; a sign-in name; words.")
    words = parts[3] if len(parts) > 3 else ""
    undoes = parts[0] != status
    return VoucherStep(status=status, undoes=undoes, at=at, by=run.lookups.somebody(parts[2]), words=words)


def _answers(run: TableRun, row: ParsedRow) -> list[VoucherAnswer]:
    """What was answered. Raises CellError."""
    text = row.get("answers", "")
    try:
        told = [(str(key), str(question), str(answer)) for key, question, answer in json.loads(text or "[]")]
    except (ValueError, TypeError) as error:
        raise CellError("These answers can't be read.", "Leave the cell as it was exported.") from error
    return [
        VoucherAnswer(position=position, key=keys_read(key, run.lookups.find_building), question=question,
                      answer=answer)
        for position, (key, question, answer) in enumerate(told, start=1)
    ]  # fmt: skip


def _line(run: TableRun, row: ParsedRow) -> VoucherLine | None:
    """A line; None with the problem noted."""
    missing = [name for name in _NEEDED if row.get(name) is None]
    for name in missing:
        run.fault(row, name, f"“{run.table.column(name).header}” is empty.", "A line of a voucher says it.")
    if missing:
        return None
    values = {name: value for name, value in model_values(VoucherLine, row, _LINE).items() if value is not None}
    return VoucherLine(key=keys_read(row.values["key"], run.lookups.find_building), **values)
