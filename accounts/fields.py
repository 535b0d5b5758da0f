"""Dates and ids from outside: one field of each for forms and queries, and the addresses' ``id``.

No date beyond `date_problem`'s bounds and no id that a database can't hold gets past these, so that nothing behind
them counts weeks off the calendar's end or hands a database a number too large for it. Those of the API stand in
`accounts.api_fields`.
"""

import datetime as dt
import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.urls.converters import IntConverter

from accounts.validation import date_problem

LARGEST_ID = 2**63 - 1
"""Of Django's BigAutoField, in every database."""

_MONTH = re.compile(r"(\d{4})-(\d{2})", re.ASCII)


def id_read(text: str) -> int | None:
    """A row's id as a query or a form spells it; None for what can be no row's."""
    # A number of thousands of digits would be refused by Python with an error of its own.
    if not text.isdecimal() or len(text) > len(str(LARGEST_ID)):
        return None
    number = int(text)
    return number if 1 <= number <= LARGEST_ID else None


def month_read(text: str) -> dt.date | None:
    """``2026-09`` as the first day of the month; None for what isn't a month, or lies beyond the bounds of
    dates."""
    match = _MONTH.fullmatch(text)
    if match is None or not 1 <= int(match[2]) <= 12 or not int(match[1]):
        return None
    month = dt.date(int(match[1]), int(match[2]), 1)
    return None if date_problem(month) else month


def date_validate(date: dt.date) -> None:
    """A field's validator; raises `ValidationError` with what is wrong with a date by itself."""
    if problem := date_problem(date):
        raise ValidationError(problem, code="date_out_of_bounds")


class DateField(forms.DateField):
    """A date of this age and the next."""

    default_validators = [date_validate]


class IdField(forms.IntegerField):
    """The id of a row; whether there is such a row, and who may see it, is asked later."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"min_value": 1, "max_value": LARGEST_ID, **options})


class RowsField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # takes no type at run time
    """Several rows of those that are offered."""

    def clean(self, value: Any) -> Any:
        """Ids that can be no row's are refused before the database is asked for them."""
        if isinstance(value, list | tuple):
            for one in value:
                if id_read(str(one)) is None:
                    raise ValidationError(
                        self.error_messages["invalid_pk_value"], code="invalid_pk_value", params={"pk": one}
                    )
        return super().clean(value)


def form_field_of(field: Any, **options: Any) -> forms.Field | None:
    """The form's field for a model's: `formfield_callback` of every model form."""
    if isinstance(field, models.ManyToManyField):
        options["form_class"] = RowsField
    elif isinstance(field, models.DateField) and not isinstance(field, models.DateTimeField):
        options["form_class"] = DateField
    made: forms.Field | None = field.formfield(**options)
    return made


class IdConverter(IntConverter):
    """``<id:pk>`` in an address: a number that can be no row's is no address (404)."""

    def to_python(self, value: str) -> int:
        """Raises `ValueError`, which Django takes as no match."""
        number = id_read(value)
        if number is None:
            message = "no row has this id"
            raise ValueError(message)
        return number
