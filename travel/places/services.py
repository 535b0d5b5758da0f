"""Writes of buildings, their spaces, their places as a service knows them, and who works in their offices.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import (
    NOT_THERE,
    audit_write,
    district_of,
    permission_require,
    record_change,
    record_remove,
)
from travel.places.geocoding import BY_HAND, Candidate, as_candidates, ask
from travel.places.models import Building, BuildingStaff, Space
from travel.places.selectors import geocoding_is_on, office_buildings_chosen, place_asked
from travel.roads.models import FoundPlaces

SHARED = "district.change"
PLACE_IS_RIGHT = "If they are right, save the building on its page, or send place_is_right."
BUILDINGS_NEEDED = "Choose the buildings where this office works: it sees nothing else."
ONLY_OFFICES = "Only a school office is tied to buildings. Remove them, or change the role."


def building_save(*, actor: Person, row: Building, values: Mapping[str, Any]) -> Building:
    """Save a building; no two of a district have one code or stand at one place.

    Coordinates far from all others are asked about (`place_question`): saved only with a true ``place_is_right``
    among the values. Raises `ValidationError` at the latitude.
    """
    kept = {name: value for name, value in values.items() if name != "place_is_right"}
    question = "" if values.get("place_is_right") else place_asked(actor.district, row, kept)
    problems = {"latitude": f"{question} {PLACE_IS_RIGHT}"} if question else {}
    return record_change(
        actor=actor, row=row, values=kept, action="building_save", permission=SHARED, problems=problems
    )


def building_delete(*, actor: Person, row: Building) -> None:
    """Delete a building with its spaces, classes, bells, feeds, own drive times and logged drives.

    Refused while students, planned weeks or trips need it.
    """
    record_remove(actor=actor, row=row, action="building_delete", permission=SHARED)


def space_save(*, actor: Person, row: Space, values: Mapping[str, Any]) -> Space:
    """Save a space of a building."""
    return record_change(actor=actor, row=row, values=values, action="space_save", permission=SHARED)


def space_delete(*, actor: Person, row: Space) -> None:
    """Delete a space with its free times; classes that met there meet without one.

    Refused while a planned session uses it.
    """
    record_remove(actor=actor, row=row, action="space_delete", permission=SHARED)


def building_geocode(*, actor: Person, row: Building) -> tuple[Candidate, ...]:
    """The places that a building's address may mean; a person chooses, even if there is only one.

    Off unless the server names a service (GEOCODER) and the district turned it on; each address is asked once and
    kept. Saves no coordinates: that is `building_save`. Raises `ApplicationError`: ``geocoding_off``,
    ``no_address``, ``place_not_found``, ``geocoder_failed``, each with what to do instead.
    """
    permission_require(actor, SHARED)
    if not Building.objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not geocoding_is_on(row.district):
        raise ApplicationError(
            f"Looking up addresses is turned off in this district. {BY_HAND}", code="geocoding_off"
        )
    address = " ".join(row.address.split())
    if not address:
        raise ApplicationError(f"{row.name} has no address to look up. Add one first.", code="no_address")
    kept = FoundPlaces.objects.filter(district=row.district, service=settings.GEOCODER, address=address).first()
    found = as_candidates(kept.places) if kept is not None else _ask_and_keep(actor, row, address)
    if not found:
        raise ApplicationError(
            f"No place was found for “{address}”. Add town and state to the address. {BY_HAND}",
            code="place_not_found",
        )
    return found


def _ask_and_keep(actor: Person, row: Building, address: str) -> tuple[Candidate, ...]:
    found = ask(address)
    if not found:
        return ()
    places = [{"words": one.words, "latitude": one.latitude, "longitude": one.longitude} for one in found]
    with transaction.atomic():
        FoundPlaces.objects.get_or_create(
            district=row.district, service=settings.GEOCODER, address=address, defaults={"places": places}
        )
        changes = {"sent": [None, address], "service": [None, settings.GEOCODER]}
        audit_write(actor=actor, district=row.district, action="building_geocode", row=row, changes=changes)
    return found


def office_buildings_save(*, actor: Person, person: Person, wanted: set[int]) -> None:
    """Tie a person to these buildings and no others; call it in the transaction that saves the person.

    An office needs at least one building and nobody else has any. Raises `ValidationError` under ``buildings``.
    """
    _check_offices(actor, person, wanted)
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


def _check_offices(actor: Person, person: Person, wanted: set[int]) -> None:
    if not person.holds(Person.Role.OFFICE) and wanted:
        raise ValidationError({"buildings": ONLY_OFFICES}, code="only_offices")
    if person.holds_from(Person.Role.OFFICE, today_of(actor)) and not wanted:
        raise ValidationError({"buildings": BUILDINGS_NEEDED}, code="buildings_needed")
    if Building.objects.changeable_by(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ValidationError({"buildings": "Choose buildings that are listed."}, code="not_listed")
