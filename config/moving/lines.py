"""A row as a line of JSON, and back: what is read is what was written, to the microsecond and the last digit.

Django's own serializers cut moments to milliseconds (`django.core.serializers.json.DjangoJSONEncoder`).
"""

import base64
import datetime as dt
import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db.models import Field, JSONField

type Column = Field[Any, Any]


class UnreadableLineError(ValueError):
    """A line that can't be a row; its words hold no value."""


def line_written(names: Sequence[str], values: Sequence[object]) -> bytes:
    """The columns of a row by their names, with the newline that ends it."""
    told = dict(zip(names, values, strict=True))
    # In one order, whatever the database makes of the order of keys within a value.
    text = json.dumps(told, default=_plain, sort_keys=True, allow_nan=False, separators=(",", ":"))
    return text.encode() + b"\n"


def _plain(value: object) -> str:
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, bytes | bytearray | memoryview):
        return base64.b64encode(value).decode()
    message = f"{type(value).__name__} has no form in an archive"
    raise TypeError(message)


def line_read(columns: Sequence[Column], line: bytes) -> tuple[Any, ...]:
    """The values of a row in the order of the columns. Raises `UnreadableLineError`."""
    try:
        told = json.loads(line)
    except ValueError as error:
        message = "it isn't JSON"
        raise UnreadableLineError(message) from error
    if not isinstance(told, dict) or told.keys() != {one.attname for one in columns}:
        message = "its columns aren't those of the table"
        raise UnreadableLineError(message)
    return tuple(_value(one, told[one.attname]) for one in columns)


def _value(column: Column, told: object) -> object:
    if told is None or isinstance(column, JSONField):
        return told
    try:
        return column.to_python(told)
    except (ValidationError, TypeError, ValueError) as error:
        message = f"what it has as {column.attname} isn't a value of that column"
        raise UnreadableLineError(message) from error
