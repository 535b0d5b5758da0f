"""A district's people as the table that can be imported: sending it back changes nothing."""

from collections.abc import Iterable, Iterator
from typing import Any

from accounts.models import Person
from accounts.people.selectors import people_listed
from schedule.imports.tables.columns import Table


def people_rows(viewer: Person, table: Table) -> Iterable[dict[str, Any]]:
    """Each role of each person, for a coordinator; nothing of how they sign in but the name."""
    del table
    for person in people_listed(viewer).order_by("username"):
        yield from _roles(person)


def _roles(person: Person) -> Iterator[dict[str, Any]]:
    about = {name: getattr(person, name) for name in ("username", "first_name", "last_name", "email", "last_day")}
    for one in person.roles.all():
        buildings = sorted(office.building.code for office in person.offices.all())
        yield {
            **about,
            "is_active": person.is_active,
            "role": one.role,
            "role_first_day": one.first_day,
            "role_last_day": one.last_day,
            "buildings": buildings if one.role == Person.Role.OFFICE else [],
        }
