"""A person together with the buildings whose office the person works in."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.models import Person
from accounts.people_services import person_save
from accounts.services import audit_write, district_of
from travel.models import Building, BuildingStaff

BUILDINGS_NEEDED = "Choose the buildings where this office works: it sees nothing else."
ONLY_OFFICES = "Only a school office is tied to buildings. Take them out, or change the role."


def person_with_offices_save(*, actor: Person, row: Person, values: Mapping[str, Any]) -> Person:
    """Save a person (accounts.people_services.person_save) and, if `buildings` are among the values, the offices.

    An office needs at least one building and nobody else has any. Raises `ValidationError` by field.
    """
    own = {name: value for name, value in values.items() if name != "buildings"}
    with transaction.atomic():
        person = person_save(actor=actor, row=row, values=own)
        before = {staff.building_id for staff in person.offices.all()}
        wanted = {one.pk for one in values["buildings"]} if "buildings" in values else before
        _check(actor, person, wanted)
        person.offices.exclude(building__in=wanted).delete()
        for building_id in sorted(wanted - before):
            staff = BuildingStaff(person=person, building_id=building_id)
            staff.full_clean()
            staff.save()
        if wanted != before:
            audit_write(
                actor=actor,
                district=district_of(person),
                action="person_offices_save",
                row=person,
                changes={"buildings": [sorted(before), sorted(wanted)]},
            )
    return person


def _check(actor: Person, person: Person, wanted: set[int]) -> None:
    if person.role != Person.Role.OFFICE and wanted:
        raise ValidationError({"buildings": ONLY_OFFICES}, code="only_offices")
    if person.role == Person.Role.OFFICE and not wanted:
        raise ValidationError({"buildings": BUILDINGS_NEEDED}, code="buildings_needed")
    if Building.objects.visible_to(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ValidationError({"buildings": "Choose buildings that are listed."}, code="not_listed")
