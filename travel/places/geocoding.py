"""Asks a service that geopy knows which places an address may mean.

What is sent is the address of a building and nothing else; no student has an address here. Whether it may be asked,
and that each address is asked once, is decided by ``travel.places.services.building_geocode``.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.conf import settings
from geopy.exc import ConfigurationError, GeocoderNotFound, GeopyError
from geopy.extra.rate_limiter import RateLimiter
from geopy.geocoders import get_geocoder_for_service

from accounts.errors import ApplicationError

ANSWER_SECONDS = 10
BY_HAND = "Enter latitude and longitude by hand, or set the pin on the map."


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place that an address may mean: the service's words for it, and degrees (WGS84) with six decimals."""

    words: str
    latitude: float
    longitude: float


def ask(address: str) -> tuple[Candidate, ...]:
    """The places that the service knows under an address; none if it knows none.

    Raises `ApplicationError` (``geocoder_failed``) if it can't be asked or doesn't answer.
    """
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


def as_candidates(places: list[dict[str, Any]]) -> tuple[Candidate, ...]:
    return tuple(Candidate(one["words"], one["latitude"], one["longitude"]) for one in places)
