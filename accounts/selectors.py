"""Reads of the accounts floor."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models.deletion import Collector, ProtectedError, RestrictedError

from accounts.models import District, Person

UTC = "UTC"


def today_of(person: Person) -> dt.date:
    """The date where the person's district is."""
    zone = person.district.time_zone if person.district is not None else UTC
    return dt.datetime.now(ZoneInfo(zone)).date()


def teachers_of(district: District | None) -> models.QuerySet[Person]:
    """Everyone who teaches in a district."""
    return Person.objects.filter(district=district, role=Person.Role.TEACHER, is_active=True)


def deletion_reach(row: models.Model) -> list[tuple[str, int]]:
    """What goes when a row is deleted, as plural names and counts; empty if nothing else does or it can't go."""
    collector = Collector(using="default", origin=row)
    try:
        collector.collect([row])
    except (ProtectedError, RestrictedError):
        return []
    counts: dict[str, int] = {}
    for model, rows in collector.data.items():
        if model is not type(row):
            name = str(model._meta.verbose_name_plural)
            counts[name] = counts.get(name, 0) + len(rows)
    for queryset in collector.fast_deletes:
        if not queryset.model._meta.auto_created and (count := queryset.count()):
            name = str(queryset.model._meta.verbose_name_plural)
            counts[name] = counts.get(name, 0) + count
    return sorted((name, count) for name, count in counts.items() if count)
