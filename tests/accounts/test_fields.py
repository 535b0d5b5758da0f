"""Dates and ids from outside stay within what can be counted and stored."""

import datetime as dt
from collections.abc import Iterator
from importlib import import_module

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.converters import IntConverter

from accounts.fields import DateField, IdConverter, RowsField, id_read, month_read

# The largest signed 64-bit integer, which is what SQLite ("Datatypes in SQLite", INTEGER) and PostgreSQL
# (documentation, table "Numeric Types", bigint) keep.
LARGEST = 9_223_372_036_854_775_807


def _subclasses(kind: type) -> Iterator[type]:
    subclasses: list[type] = kind.__subclasses__()
    for one in subclasses:
        yield one
        yield from _subclasses(one)


def _ours(kind: type) -> bool:
    return kind.__module__.split(".")[0] in {"accounts", "caseload", "schedule", "travel"}


def test_every_form_takes_bounded_dates_and_rows() -> None:
    """Those that Django makes of a model's fields as well."""
    import_module("config.urls")
    fields = {
        f"{form.__qualname__}.{name}": field
        for form in _subclasses(forms.BaseForm)
        if _ours(form)
        for name, field in getattr(form, "base_fields", {}).items()
    }
    dates = {name: field for name, field in fields.items() if isinstance(field, forms.fields.DateField)}
    rows = {
        name: field for name, field in fields.items() if isinstance(field, forms.models.ModelMultipleChoiceField)
    }
    assert len(dates) > 20
    assert len(rows) > 1
    assert [name for name, field in dates.items() if not isinstance(field, DateField)] == []
    assert [name for name, field in rows.items() if not isinstance(field, RowsField)] == []


def _patterns(patterns: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for one in patterns:
        if isinstance(one, URLPattern):
            yield one
        else:
            yield from _patterns(one.url_patterns)


def test_every_id_in_an_address_is_bounded() -> None:
    """Places of a road map's tiles, and what sort of thing waits, are plain numbers and no row's."""
    plain = {
        str(one.pattern)
        for one in _patterns(get_resolver().url_patterns)
        if any(type(kind) is IntConverter for kind in one.pattern.converters.values())
    }
    assert plain == {"roads/<int:zoom>/<int:column>/<int:row>.svg", "overview/waits/<int:kind>/"}


@pytest.mark.parametrize("text", ["", "0", "-1", "1.5", "x", "²", str(LARGEST + 1), "9" * 25, "9" * 5000, "a\x00"])
def test_what_no_row_can_have(text: str) -> None:
    """Neither in a query nor in an address."""
    assert id_read(text) is None
    with pytest.raises(ValueError, match="no row"):
        IdConverter().to_python(text)


@pytest.mark.parametrize("number", [1, LARGEST])
def test_ids(number: int) -> None:
    """The first and the last."""
    assert id_read(str(number)) == IdConverter().to_python(str(number)) == number


@pytest.mark.parametrize(
    "text", ["0001-01", "9999-12", "0000-01", "2026-13", "2026-00", "2026-1", "x", "2026-09-01"]
)
def test_no_month(text: str) -> None:
    """Beyond the bounds, or none."""
    assert month_read(text) is None


def test_a_month() -> None:
    """Its first day."""
    assert month_read("2026-09") == dt.date(2026, 9, 1)


@pytest.mark.parametrize("text", ["0001-01-01", "9999-12-31"])
def test_a_date_off_the_calendar(text: str) -> None:
    """Refused in words."""
    with pytest.raises(ValidationError, match="can't be right"):
        DateField().clean(text)
