"""Which rows are a district's: of each table by its way along foreign keys, or of none of it, for a reason."""

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db.models import ForeignKey, Model, Q, QuerySet

from accounts.models import District, Person
from jobs.models import Job

type Key = ForeignKey[Any, Any]

LEFT_OUT = {
    "accounts.OpenSession": "a browser that is signed in: everybody signs in again",
    "accounts.Person_groups": "Django's own groups, which the program doesn't ask",
    "accounts.Person_user_permissions": "Django's own permissions, which the program doesn't ask",
    "auth.Group": "Django's own groups, which the program doesn't ask",
    "auth.Group_permissions": "Django's own groups, which the program doesn't ask",
    "auth.Permission": "made by the program's migrations",
    "axes.AccessAttempt": "wrong tries at signing in, counted by a name and an address of any district",
    "axes.AccessAttemptExpiration": "until when those tries count",
    "axes.AccessFailureLog": "wrong tries at signing in, by a name and an address of any district",
    "axes.AccessLog": "sign-ins by a name and an address of any district",
    "contenttypes.ContentType": "made by the program's migrations",
    "schedule.FormerAddress": "a calendar's address that has ended, kept without whose it was",
    "sessions.Session": "a browser that is signed in: everybody signs in again",
}
"""Tables of which an archive has nothing, by their labels, each with its reason."""


@dataclass(frozen=True, slots=True)
class DistrictTable:
    """A table whose rows are of districts. `ways` are look-ups that lead there; each row has one of them."""

    model: type[Model]
    ways: tuple[str, ...]

    @property
    def label(self) -> str:
        """Such as `caseload.Student`."""
        return self.model._meta.label

    @property
    def columns(self) -> tuple[Any, ...]:
        """Its columns that hold something of their own, in the order of the model."""
        return tuple(one for one in self.model._meta.concrete_fields if not one.generated)

    def rows(self, district: District) -> "QuerySet[Any]":
        """Its rows of the district, in the order of their keys."""
        wanted = Q()
        for way in self.ways:
            wanted |= Q(**{way: district.pk})
        if self.model is Job:
            wanted |= _named(district)
        return every_row(self.model).filter(wanted).order_by("pk")


def _named(district: District) -> Q:
    """Work that a row of the district names, such as that of a plan run from before jobs said whose they are."""
    found = Q()
    for table in district_tables():
        for key in keys_of(table.model):
            if key.related_model is Job:
                found |= Q(pk__in=table.rows(district).order_by().values(key.attname))
    return found


def every_row(model: type[Model]) -> "QuerySet[Any]":
    """Of a table, whatever its own manager leaves out."""
    return model._base_manager.all()  # noqa: SLF001 -- Django's documented name


def keys_of(model: type[Model]) -> Sequence[Key]:
    """Its foreign keys, those that hold one row each among them."""
    return [one for one in model._meta.concrete_fields if isinstance(one, ForeignKey)]


@cache
def district_tables() -> tuple[DistrictTable, ...]:
    """Every table that an archive holds, by its label. Raises `LookupError` for one neither held nor left out."""
    kept = {one for one in apps.get_models(include_auto_created=True) if one._meta.label not in LEFT_OUT}
    ways: dict[type[Model], tuple[str, ...]] = {District: ("pk",), Job: ("district_number",)}
    # By people only where nothing else leads there: a row of a student is of the student's district.
    for later in ({Person}, set()):
        while found := dict(_step(kept - set(ways) - later, ways)):
            ways |= found
    if strange := sorted(one._meta.label for one in kept - set(ways)):
        message = f"Of no district and not left out by name (config/moving/belonging.py): {', '.join(strange)}"
        raise LookupError(message)
    return tuple(DistrictTable(one, ways[one]) for one in sorted(kept, key=lambda one: one._meta.label))


def _step(
    wanted: set[type[Model]], ways: Mapping[type[Model], tuple[str, ...]]
) -> Iterator[tuple[type[Model], tuple[str, ...]]]:
    """The tables that are one key away from those whose ways are known."""
    for model in wanted:
        if found := _ways_of(model, ways):
            yield model, found


def _ways_of(model: type[Model], ways: Mapping[type[Model], tuple[str, ...]]) -> tuple[str, ...]:
    """Along the keys that lead there; empty where none does yet."""
    return tuple(_along(one, way) for one in _leading(model, ways) for way in ways[one.related_model])


def _leading(model: type[Model], known: Container[object]) -> Sequence[Key]:
    """The first key that is always filled; else all keys, where each may be and all lead to known tables."""
    keys = [one for one in keys_of(model) if one.related_model not in {Job, model}]
    near = [one for one in keys if one.related_model in known]
    if any(not one.null for one in keys):
        return [one for one in near if not one.null][:1]
    return near if near == keys else []


def _along(key: Key, way: str) -> str:
    return key.name if key.related_model is District else f"{key.name}__{way}"
