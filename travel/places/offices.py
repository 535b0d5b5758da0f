"""The buildings whose office a person works in; the accounts floor asks for them by its hook."""

from django.core.exceptions import ValidationError

from accounts.models import Person
from accounts.people.hooks import OfficeBuildings
from accounts.services import audit_write, district_of
from travel.places.models import Building, BuildingStaff

BUILDINGS_NEEDED = "Choose the buildings where this office works: it sees nothing else."
ONLY_OFFICES = "Only a school office is tied to buildings. Remove them, or change the role."


def office_buildings_chosen(person: Person) -> set[int]:
    """Ids of the buildings that a person is tied to."""
    return set(BuildingStaff.objects.filter(person=person).values_list("building_id", flat=True))


def office_buildings_save(actor: Person, person: Person, wanted: set[int]) -> None:
    """Tie a person to these buildings and no others; call it in the transaction that saves the person.

    An office needs at least one building and nobody else has any. Raises `ValidationError` under ``buildings``.
    """
    _check(actor, person, wanted)
    before = office_buildings_chosen(person)
    BuildingStaff.objects.filter(person=person).exclude(building__in=wanted).delete()
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


def _check(actor: Person, person: Person, wanted: set[int]) -> None:
    if person.role != Person.Role.OFFICE and wanted:
        raise ValidationError({"buildings": ONLY_OFFICES}, code="only_offices")
    if person.role == Person.Role.OFFICE and not wanted:
        raise ValidationError({"buildings": BUILDINGS_NEEDED}, code="buildings_needed")
    if Building.objects.visible_to(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ValidationError({"buildings": "Choose buildings that are listed."}, code="not_listed")


OFFICES = OfficeBuildings(
    every=Building.objects.all,
    visible_to=Building.objects.visible_to,
    chosen=office_buildings_chosen,
    save=office_buildings_save,
)
