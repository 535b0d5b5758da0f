"""Validation of a whole row, with every problem at the field where a person can fix it."""

import datetime as dt
from collections.abc import Callable, Hashable, Iterable, Mapping
from decimal import Decimal
from functools import cache
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, FieldDoesNotExist, ValidationError
from django.db import models
from django.db.models import Q

type Problems = Mapping[str, str | ValidationError]
type Rule[M: models.Model] = Callable[[M, Mapping[str, Any]], Mapping[str, str]]
"""Looks at a row that is valid by itself, and at the values that were asked for (many-to-many ones included);
answers with problems by field name. It reads other rows but changes none."""


EARLIEST, LATEST = dt.date(1950, 1, 1), dt.date(2150, 12, 31)
"""A date outside these is a slip of the pen (0206 for 2026), and weeks can't be counted at the calendar's ends."""


NUL_PROBLEM = "This contains a character that can't be saved (NUL). Type it again."
"""PostgreSQL keeps none in a text; SQLite would, and the row could never be moved to PostgreSQL."""


MOST_HELD = 4096
"""Of how many rows' values it is remembered that checks held; then it begins anew."""
_PLAIN = (int, Decimal, dt.date, dt.time, dt.timedelta, type(None))  # bool is an int, a datetime a date
_HELD: set[Hashable] = set()


def date_problem(date: dt.date) -> str:
    """What is wrong with a date by itself; empty if nothing."""
    if EARLIEST <= date <= LATEST:
        return ""
    return f"The year {date.year} can't be right. Check the date."


def row_validate(row: models.Model, *, exclude: Iterable[str] = (), problems: Problems | None = None) -> None:
    """`full_clean`, with `problems` that were found before added to what it finds.

    Raises `ValidationError` by field: a broken constraint goes to the field that its condition names last.
    """
    found: dict[str, list[ValidationError]] = {}
    known = {**_value_problems(row), **(problems or {})}
    try:
        _full_clean(row, {*exclude, *known})
    except ValidationError as error:
        for name, errors in error.error_dict.items():
            for one in errors:
                found.setdefault(_field_for(row, name, one), []).append(_in_plain_words(row, name, one))
    for name, text in known.items():
        problem = text if isinstance(text, ValidationError) else ValidationError(text, code="refused")
        found.setdefault(name, []).append(problem)
    if found:
        raise ValidationError(found)


def _full_clean(row: models.Model, exclude: set[str]) -> None:
    """`Model.full_clean`, with fewer questions.

    A row that was loaded is there and isn't looked for again; the table's own checks are one question as long as
    all of them hold.
    """
    found: dict[str, list[ValidationError]] = {}
    steps: tuple[Callable[[], None], ...] = (
        lambda: row.clean_fields(exclude=exclude | _loaded_parents(row)),
        row.clean,
        lambda: row.validate_unique(exclude=exclude | set(found) - {NON_FIELD_ERRORS}),
        lambda: _constraints_validate(row, exclude | set(found) - {NON_FIELD_ERRORS}),
    )
    for step in steps:
        try:
            step()
        except ValidationError as error:
            found = error.update_error_dict(found)
    if found:
        raise ValidationError(found)


def _loaded_parents(row: models.Model) -> set[str]:
    """Relations to rows that the database gave."""
    return {
        field.name
        for field in row._meta.concrete_fields
        if isinstance(field, models.ForeignKey) and not field.get_limit_choices_to() and _is_loaded(row, field)
    }


def _is_loaded(row: models.Model, field: "models.ForeignKey[Any, Any]") -> bool:
    parent = field.get_cached_value(row, default=None)
    if parent is None or parent._state.adding:  # noqa: SLF001 -- as Django's documentation has it
        return False
    return bool(getattr(parent, field.target_field.attname) == getattr(row, field.attname))


def _constraints_validate(row: models.Model, exclude: set[str]) -> None:
    if not exclude and _holds_all(row):
        return
    row.validate_constraints(exclude=exclude)


def _holds_all(row: models.Model) -> bool:
    """Whether nothing is wrong with it, whatever that would be."""
    try:
        _checks_hold(row)
        for model, constraints in row.get_constraints():
            for one in constraints:
                if not isinstance(one, models.CheckConstraint):
                    one.validate(model, row)
    except ValidationError:
        return False
    return True


def _checks_hold(row: models.Model) -> None:
    """Ask the database whether the table's checks hold, unless they held for the same values before.

    A check looks at nothing but values of its row, so the answer is always the same. Raises ValidationError.
    """
    checks = _all_checks(type(row))
    if checks is None:
        return
    key = _checked_values(row)
    if key is not None and key in _HELD:
        return
    checks.validate(type(row), row)
    if key is not None:
        if len(_HELD) >= MOST_HELD:
            _HELD.clear()
        _HELD.add(key)


def _checked_values(row: models.Model) -> Hashable | None:
    """The values that the checks of a row look at; None where one isn't plain, or is a text that somebody wrote."""
    values = []
    for field in _checked_fields(type(row)):
        value = getattr(row, field.attname)
        if not isinstance(value, _PLAIN) and not (isinstance(value, str) and (field.choices or not value)):
            return None
        values.append((type(value), value))
    return (type(row), *values)


@cache
def _checked_fields(model: type[models.Model]) -> tuple["models.Field[Any, Any]", ...]:
    """The fields that a model's checks name."""
    checks = _all_checks(model)
    names = checks.condition.referenced_base_fields if checks and isinstance(checks.condition, Q) else set()
    return tuple(field for field in model._meta.concrete_fields if field.name in names)


@cache
def _all_checks(model: type[models.Model]) -> models.CheckConstraint | None:
    """A model's checks as one."""
    found = [one.condition for one in model._meta.constraints if isinstance(one, models.CheckConstraint)]
    return models.CheckConstraint(condition=Q(*found), name="all") if found else None


def _value_problems(row: models.Model) -> dict[str, str]:
    values = {field.name: getattr(row, field.attname) for field in row._meta.concrete_fields}
    return {name: text for name, value in values.items() if (text := _value_problem(value))}


def _value_problem(value: Any) -> str:
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return date_problem(value)
    return NUL_PROBLEM if isinstance(value, str) and "\x00" in value else ""


def rules_check[M: models.Model](row: M, values: Mapping[str, Any], rules: Iterable[Rule[M]]) -> None:
    """Run every rule and raise what all of them found, by field."""
    found: dict[str, list[str]] = {}
    for rule in rules:
        for name, text in rule(row, values).items():
            found.setdefault(name, []).append(text)
    if found:
        raise ValidationError(found)


def _field_for(row: models.Model, name: str, error: ValidationError) -> str:
    if name != NON_FIELD_ERRORS:
        return name
    for constraint in row._meta.constraints:
        if constraint.violation_error_message == error.message:
            return _named_last(constraint) or name
    return name


def _named_last(constraint: models.BaseConstraint) -> str:
    if isinstance(constraint, models.UniqueConstraint):
        return constraint.fields[-1] if constraint.fields else ""
    if isinstance(constraint, models.CheckConstraint) and isinstance(constraint.condition, Q):
        names = _names_in(constraint.condition)
        return names[-1] if names else ""
    return ""


def _names_in(condition: Q) -> list[str]:
    names: list[str] = []
    for child in condition.children:
        if isinstance(child, Q):
            names += _names_in(child)
        elif isinstance(child, tuple):
            names.append(str(child[0]).split("__")[0])
    return names


def _in_plain_words(row: models.Model, name: str, error: ValidationError) -> ValidationError:
    """“This field cannot be null” says nothing to a person at a form or a spreadsheet."""
    if error.code not in {"null", "blank"}:
        return error
    try:
        label = getattr(row._meta.get_field(name), "verbose_name", name)
    except FieldDoesNotExist:
        label = name
    return ValidationError(f"The {label} is missing. Enter it.", code=error.code)
