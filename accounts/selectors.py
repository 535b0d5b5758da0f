"""Reads of the accounts floor."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Q
from django.db.models.deletion import Collector, ProtectedError, RestrictedError
from django.utils import timezone

from accounts.dates import date_words
from accounts.models import AuditEntry, District, Person, held_ever

UTC = "UTC"


def today_of(person: Person, now: dt.datetime | None = None) -> dt.date:
    """The date where the person's district is, now or at a moment (aware)."""
    return today_in(person.district, now)


def today_in(district: District | None, now: dt.datetime | None = None) -> dt.date:
    """The date where a district is, now or at a moment (aware); in UTC without one."""
    zone = district.time_zone if district is not None else UTC
    return timezone.localdate(now, timezone=ZoneInfo(zone))


def working_as(person: Person, *roles: str) -> Person:
    """The person, working in the first of the roles that they hold today; without one of them nothing opens.

    For what is done in somebody's name without a session of theirs: jobs, calendars.
    """
    held = person.roles_on(today_of(person))
    return person.act_as(next((role for role in roles if role in held), ""))


def teachers_of(district: District | None) -> models.QuerySet[Person]:
    """Everyone who teaches in a district, or did: those who can't sign in anymore come last."""
    rows = Person.objects.filter(held_ever(Person.Role.TEACHER), district=district)
    return rows.order_by("-is_active", "last_name", "first_name", "username")


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


# ---- what was done last ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LastChange:
    """A change that can be taken back, in words such as “Ada Vey removed a place on October 5, 2026”."""

    entry: AuditEntry
    words: str


def last_change_of(
    model: type[models.Model], district: District, rows: Iterable[int], *, undo: str, about: Q | None = None
) -> LastChange | None:
    """What was done last to these rows of a table; nothing where that took a change back (the action `undo`).

    `about` finds changes of rows that are gone, by what the audit kept of them.
    """
    named = Q(object_id__in=[str(pk) for pk in rows])
    named = named | about if about is not None else named
    entries = AuditEntry.objects.filter(named, district=district, model=model._meta.label_lower)
    entry = entries.select_related("actor").order_by("-pk").first()
    return None if entry is None or entry.action == undo else LastChange(entry, change_words(entry, model))


def change_words(entry: AuditEntry, model: type[models.Model]) -> str:
    """Who did what, and when; the row itself isn't named."""
    was, now = entry.changes.get("id", [0, 0])
    done = "added" if was is None else "removed" if now is None else "changed"
    who = str(entry.actor) if entry.actor is not None else "Somebody"
    return f"{who} {done} this {model._meta.verbose_name} on {date_words(timezone.localtime(entry.at).date())}"


# ---- as it was known ---------------------------------------------------------------------------------------


def rows_known[M: models.Model](
    model: type[M], district: District, rows: Iterable[M], moment: dt.datetime, *, restore: bool = False
) -> list[M]:
    """A table's rows as they were at a moment, by what the audit says was changed since. One query.

    Rows made since are left out. With `restore` those deleted since are there again: only for tables all of whose
    fields a form has, since no others are in the audit.
    """
    entries = AuditEntry.objects.filter(district=district, model=model._meta.label_lower, at__gt=moment)
    found = {str(row.pk): row for row in rows}
    for entry in entries.order_by("-at", "-pk"):
        made, gone = (entry.changes.get("id", [0, 0])[end] is None for end in (0, 1))
        if made:
            found.pop(entry.object_id, None)
        elif entry.object_id in found or (gone and restore):
            _rewind(found.setdefault(entry.object_id, model()), entry.changes)
    return list(found.values())


def _rewind(row: models.Model, changes: Mapping[str, Any]) -> None:
    """Give a row the values that it had before a change."""
    for field in row._meta.concrete_fields:
        if field.name in changes:
            setattr(row, field.attname, field.to_python(changes[field.name][0]))
