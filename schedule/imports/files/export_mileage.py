"""Mileage as tables: trips on which their drivers decided, and vouchers with their lines."""

import datetime as dt
import json
import re
from collections.abc import Callable, Iterable, Mapping

from django.db.models import QuerySet

from accounts.models import Person
from schedule.imports.files.cells import Values, code_of, fields_of
from schedule.imports.tables.columns import Table
from travel.mileage.models import Trip, Voucher, VoucherLine, VoucherStep
from travel.places.models import Building

_KEY = re.compile(r"(\d{4})(\d\d)(\d\d)-(\d+|home)-(\d+|home)-(\d+)")
_TOLD = re.compile(r"(\d{4})-(\d\d)-(\d\d) ([A-Za-z0-9_-]+) ([A-Za-z0-9_-]+) (\d+)")
"""A trip's key as tables name it: `2026-10-05 NORTH home 1`."""
_OF_VOUCHER = ("number", "edition", "status", "reprices", "rules")
_OF_LINE = ("teacher", "month", *_OF_VOUCHER, "submitted_by", "submitted_at", "steps", "answers", "key")


def driver_name(person: Person) -> str:
    """Whom a table names: by the sign-in name, or the name of somebody who came by a link."""
    return person.called if person.by_link else person.username


def keys_told(text: str, codes: Mapping[int, str]) -> str:
    """A text with each trip's key as tables name it; one of a building that is gone stays."""

    def told(found: re.Match[str]) -> str:
        year, month, day, *ends, number = found.groups()
        names = [one if one == "home" else codes.get(int(one)) for one in ends]
        return found[0] if None in names else f"{year}-{month}-{day} {names[0]} {names[1]} {number}"

    return _KEY.sub(told, text)


def keys_read(text: str, building: Callable[[str], Building | None]) -> str:
    """The other way: a text with each trip's key as it is kept here."""

    def kept(found: re.Match[str]) -> str:
        year, month, day, *ends, number = found.groups()
        places = [one if one == "home" else building(one) for one in ends]
        named = [str(one.pk) if isinstance(one, Building) else one for one in places]
        return found[0] if None in named else f"{year}{month}{day}-{named[0]}-{named[1]}-{number}"

    return _TOLD.sub(kept, text)


def trips(viewer: Person, table: Table) -> Iterable[Values]:
    """Trips by driver and day."""
    rows = Trip.objects.visible_to(viewer).select_related("teacher", "origin", "destination")
    for row in rows.order_by("teacher__username", "date", "key"):
        links: Values = {
            "teacher": driver_name(row.teacher),
            "origin": code_of(row.origin),
            "destination": code_of(row.destination),
            "number": int(row.key.rpartition("-")[2]),
        }
        yield fields_of(row, table, *links) | links


def vouchers(viewer: Person, table: Table) -> Iterable[Values]:
    """Vouchers by driver and month, a row for each line."""
    codes = dict(Building.objects.visible_to(viewer).values_list("pk", "code"))
    for row in vouchers_of(Voucher.objects.visible_to(viewer)):
        yield from voucher_rows(row, table, codes)


def vouchers_of(rows: QuerySet[Voucher]) -> QuerySet[Voucher]:
    """Vouchers with all that a table says of them, the earlier ones of a month first."""
    rows = rows.select_related("teacher", "submitted_by").prefetch_related("lines", "steps__by", "answers")
    return rows.order_by("teacher__username", "month", "number", "edition")


def voucher_rows(row: Voucher, table: Table, codes: Mapping[int, str]) -> Iterable[Values]:
    """The rows of one voucher; one without a line is a row as well."""
    head: Values = {
        "teacher": driver_name(row.teacher),
        "month": row.month,
        **{name: getattr(row, name) for name in _OF_VOUCHER},
        "submitted_by": driver_name(row.submitted_by) if row.submitted_by is not None else "",
        "submitted_at": _utc(row.submitted_at),
        "steps": "\n".join(_step(one) for one in row.steps.all()),
        "answers": keys_told(_answers(row), codes),
    }
    lines: list[VoucherLine] = list(row.lines.all())
    if not lines:
        yield head
    for line in lines:
        yield fields_of(line, table, *_OF_LINE) | head | {"key": keys_told(line.key, codes)}


def _step(one: VoucherStep) -> str:
    """`approved; 2026-11-03T14:00:00+00:00; odell; words`, with “undone” before what is taken back."""
    undone = "undone " if one.undoes else ""
    return f"{undone}{one.status}; {_utc(one.at)}; {driver_name(one.by)}; {one.words}".rstrip()


def _answers(row: Voucher) -> str:
    told = [[one.key, one.question, one.answer] for one in row.answers.all()]
    return json.dumps(told, ensure_ascii=False) if told else ""


def _utc(moment: dt.datetime | None) -> str:
    return "" if moment is None else moment.astimezone(dt.UTC).isoformat()
