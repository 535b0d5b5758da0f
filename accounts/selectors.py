"""Reads of the accounts floor."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models.deletion import Collector, ProtectedError, RestrictedError

from accounts.models import District, Person

UTC = "UTC"


def today_of(person: Person) -> dt.date:
    """The date where the person's district is."""
    return today_in(person.district)


def today_in(district: District | None) -> dt.date:
    """The date where a district is; in UTC without one."""
    zone = district.time_zone if district is not None else UTC
    return dt.datetime.now(ZoneInfo(zone)).date()


def teachers_of(district: District | None) -> models.QuerySet[Person]:
    """Everyone who teaches in a district."""
    return Person.objects.filter(district=district, role=Person.Role.TEACHER, is_active=True)


@dataclass(frozen=True, slots=True)
class Deletion:
    """What deleting a row would do: `goes` counts what goes with it, `kept_by` names what keeps it from going."""

    goes: tuple[tuple[str, int], ...] = ()
    kept_by: tuple[str, ...] = ()


def deletion_foreseen(row: models.Model) -> Deletion:
    """What would go with a row, or what still needs it; names are the models' plurals."""
    collector = Collector(using="default", origin=row)
    try:
        collector.collect([row])
    except ProtectedError as error:
        return Deletion(kept_by=_names(error.protected_objects))
    except RestrictedError as error:
        return Deletion(kept_by=_names(error.restricted_objects))
    counts: Counter[str] = Counter()
    for model, rows in collector.data.items():
        if model is not type(row):
            counts[str(model._meta.verbose_name_plural)] += len(rows)
    for queryset in collector.fast_deletes:
        if not queryset.model._meta.auto_created:
            counts[str(queryset.model._meta.verbose_name_plural)] += queryset.count()
    return Deletion(goes=tuple(sorted((name, count) for name, count in counts.items() if count)))


def _names(rows: Iterable[models.Model]) -> tuple[str, ...]:
    return tuple(sorted({str(row._meta.verbose_name_plural) for row in rows}))
