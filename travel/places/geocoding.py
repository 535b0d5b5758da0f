"""Finds the coordinates of a building's address through a service that geopy knows.

Off unless the server names a service (GEOCODER) and the district turned it on. What is sent is the address of a
building and nothing else; no student has an address here. Each address is asked once and kept.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.db import transaction
from geopy.exc import ConfigurationError, GeocoderNotFound, GeopyError
from geopy.extra.rate_limiter import RateLimiter
from geopy.geocoders import get_geocoder_for_service

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import NOT_THERE, audit_write, permission_require
from travel.places.models import Building
from travel.roads.models import FoundPlaces, TravelChoices

ANSWER_SECONDS = 10
BY_HAND = "Enter latitude and longitude by hand, or set the pin on the map."


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place that an address may mean: the service's words for it, and degrees (WGS84) with six decimals."""

    words: str
    latitude: float
    longitude: float


def geocoding_is_on(district: District) -> bool:
    """Whether addresses may be looked up for a district."""
    return (
        bool(settings.GEOCODER) and TravelChoices.objects.filter(district=district, look_up_addresses=True).exists()
    )


def building_geocode(*, actor: Person, row: Building) -> tuple[Candidate, ...]:
    """The places that a building's address may mean; a person chooses, even if there is only one.

    Saves no coordinates: that is `building_save`. Raises `ApplicationError`: ``geocoding_off``, ``no_address``,
    ``place_not_found``, ``geocoder_failed``, each with what to do instead.
    """
    permission_require(actor, "district.change")
    if not Building.objects.visible_to(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if not geocoding_is_on(row.district):
        raise ApplicationError(
            f"Looking up addresses is turned off in this district. {BY_HAND}", code="geocoding_off"
        )
    address = " ".join(row.address.split())
    if not address:
        raise ApplicationError(f"{row.name} has no address to look up. Add one first.", code="no_address")
    kept = FoundPlaces.objects.filter(district=row.district, service=settings.GEOCODER, address=address).first()
    found = _as_candidates(kept.places) if kept is not None else _ask_and_keep(actor, row, address)
    if not found:
        raise ApplicationError(
            f"No place was found for “{address}”. Add town and state to the address. {BY_HAND}",
            code="place_not_found",
        )
    return found


def _ask_and_keep(actor: Person, row: Building, address: str) -> tuple[Candidate, ...]:
    found = _ask(address)
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


def _ask(address: str) -> tuple[Candidate, ...]:
    try:
        geocode = _limited(
            settings.GEOCODER, json.dumps(settings.GEOCODER_OPTIONS), settings.GEOCODER_SECONDS_APART
        )
        answer = geocode(address, exactly_one=False)
    except (ConfigurationError, GeocoderNotFound, TypeError) as error:
        raise ApplicationError(
            f"The address service isn't set up correctly on the server. {BY_HAND}", code="geocoder_failed"
        ) from error
    except GeopyError as error:
        raise ApplicationError(
            f"The address service didn't answer. Try again later. {BY_HAND}", code="geocoder_failed"
        ) from error
    return tuple(
        Candidate(str(place.address), round(place.latitude, 6), round(place.longitude, 6)) for place in answer or ()
    )


@lru_cache(maxsize=4)
def _limited(service: str, options: str, seconds_apart: float) -> Callable[..., Any]:
    """One geocoder a process, asked no more often than its service allows."""
    geocoder = get_geocoder_for_service(service)(timeout=ANSWER_SECONDS, **json.loads(options))
    limited: Callable[..., Any] = RateLimiter(
        geocoder.geocode,
        min_delay_seconds=seconds_apart,
        max_retries=1,
        error_wait_seconds=max(1.0, seconds_apart),
        swallow_exceptions=False,
    )
    return limited


def _as_candidates(places: list[dict[str, Any]]) -> tuple[Candidate, ...]:
    return tuple(Candidate(one["words"], one["latitude"], one["longitude"]) for one in places)
