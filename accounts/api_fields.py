"""Dates, moments and ids of the API, within the bounds of `accounts.fields`."""

import datetime as dt
from typing import Any

from django_filters import rest_framework as filters
from rest_framework import serializers

from accounts.fields import LARGEST_ID, date_validate
from accounts.fields import DateField as FormDateField
from accounts.fields import IdField as FormIdField


def moment_validate(moment: dt.datetime) -> None:
    """A field's validator; raises `ValidationError` for a moment on a date that can't be right."""
    date_validate(moment.date())


class DateField(serializers.DateField):
    """A date of this age and the next."""

    default_validators = [date_validate]


class MomentField(serializers.DateTimeField):
    """A date and time of this age and the next."""

    default_validators = [moment_validate]


class IdField(serializers.IntegerField):
    """The id of a row; whether there is such a row, and who may see it, is asked later."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"min_value": 1, "max_value": LARGEST_ID, **options})


class IdFilter(filters.Filter):  # type: ignore[misc]  # the library ships no types
    """A related row's id in the query; an id that isn't there or can't be seen gives an empty list alike."""

    field_class = FormIdField

    def __init__(self, field_name: str) -> None:
        super().__init__(field_name=field_name, label="Id.")


class DateFilter(filters.DateFilter):  # type: ignore[misc]  # the library ships no types
    """A date in the query."""

    field_class = FormDateField


def id_filters(name: str, **paths: str) -> type[filters.FilterSet]:
    """A filter set of ids, each by the path that it looks along, such as ``building="building_id"``."""
    fields = {query: IdFilter(path) for query, path in paths.items()}
    return type(name, (filters.FilterSet,), fields)
