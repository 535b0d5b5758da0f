"""Addresses looked up: off by default, asked once, slowly, and with nothing but a building's address."""

import json
import time
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse
from pytest_django.fixtures import Settings

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from tests.answering_server import server_that
from tests.conftest import Cast
from tests.travel.places.test_building_pages import signed_in
from travel.places.models import Building
from travel.places.services import building_geocode
from travel.roads.models import TravelChoices

ADDRESS = "12 Hollow Road, Marrow Vale"


def place(name: str, latitude: str, longitude: str) -> dict[str, str]:
    """As Nominatim says it (https://nominatim.org/release-docs/latest/api/Output/)."""
    return {"display_name": name, "lat": latitude, "lon": longitude}


KNOWN = {
    ADDRESS: [place("12 Hollow Road, Marrow Vale, New York", "43.1012345678", "-75.2")],
    "Hollow Road": [place("Hollow Road, Tarn", "43.1", "-75.2"), place("Hollow Road, Fells", "41.0", "-74.0")],
}


class Service:
    """A small Nominatim that remembers what it was sent, and may be down."""

    def __init__(self) -> None:
        self.asked: list[dict[str, list[str]]] = []
        self.at: list[float] = []
        self.status = 200

    def says(self, path: str, body: bytes) -> tuple[int, bytes]:
        """An answer."""
        assert not body
        query = parse_qs(urlsplit(path).query)
        self.asked.append(query)
        self.at.append(time.monotonic())
        return self.status, json.dumps(KNOWN.get(query["q"][0], [])).encode()


@pytest.fixture
def service(cast: Cast, settings: Settings) -> Iterator[Service]:
    """A service that the server names and the district turned on."""
    answering = Service()
    with server_that(answering.says) as url:
        settings.GEOCODER = "nominatim"
        settings.GEOCODER_OPTIONS = {
            "domain": url.removeprefix("http://"),
            "scheme": "http",
            "user_agent": "minutes-and-miles-tests",
        }
        settings.GEOCODER_SECONDS_APART = 0.3
        TravelChoices.objects.create(district=cast.district, look_up_addresses=True)
        address(cast.north, ADDRESS)
        yield answering


def address(building: Building, text: str) -> None:
    """Give a building an address."""
    building.address = text
    building.save()


def code_of(cast: Cast, row: Building) -> str:
    """The code of the refusal."""
    with pytest.raises(ApplicationError) as caught:
        building_geocode(actor=cast.teacher, row=row)
    return caught.value.code


def test_the_place_is_offered_and_not_saved(cast: Cast, service: Service) -> None:
    (found,) = building_geocode(actor=cast.teacher, row=cast.north)
    assert (found.latitude, found.longitude) == (43.101235, -75.2)
    cast.north.refresh_from_db()
    assert str(cast.north.latitude) == "43.100000"
    assert service.asked == [{"q": [ADDRESS], "format": ["json"]}]
    assert AuditEntry.objects.filter(action="building_geocode", actor=cast.teacher).count() == 1


def test_an_address_is_asked_once(cast: Cast, service: Service) -> None:
    first = building_geocode(actor=cast.teacher, row=cast.north)
    address(cast.north, "  12 Hollow Road,   Marrow Vale ")
    assert building_geocode(actor=cast.mate, row=cast.north) == first
    assert len(service.asked) == 1


def test_an_ambiguous_address_offers_all_its_places(cast: Cast, service: Service) -> None:
    address(cast.north, "Hollow Road")
    found = building_geocode(actor=cast.teacher, row=cast.north)
    assert [one.words for one in found] == ["Hollow Road, Tarn", "Hollow Road, Fells"]


def test_requests_are_apart(cast: Cast, service: Service) -> None:
    address(cast.south, "Hollow Road")
    for building in (cast.north, cast.south):
        building_geocode(actor=cast.teacher, row=building)
    # The pause is kept where requests leave; a tenth of a second is left for their ways.
    assert service.at[1] - service.at[0] >= 0.2


def test_what_is_not_found_is_said_and_asked_again_later(cast: Cast, service: Service) -> None:
    address(cast.north, "Nowhere 1")
    assert code_of(cast, cast.north) == "place_not_found"
    assert code_of(cast, cast.north) == "place_not_found"
    assert len(service.asked) == 2


def test_a_service_that_fails_is_said(cast: Cast, service: Service) -> None:
    service.status = 500
    assert code_of(cast, cast.north) == "geocoder_failed"


@pytest.mark.parametrize("options", [{}, {"no_such_option": 1}])
def test_a_service_that_is_set_up_wrongly_is_said(
    cast: Cast, service: Service, settings: Settings, options: dict[str, object]
) -> None:
    settings.GEOCODER_OPTIONS = options
    assert code_of(cast, cast.north) == "geocoder_failed"
    settings.GEOCODER = "no-such-service"
    assert code_of(cast, cast.north) == "geocoder_failed"


def test_nothing_is_sent_unless_the_server_and_the_district_turned_it_on(
    cast: Cast, service: Service, settings: Settings
) -> None:
    TravelChoices.objects.update(look_up_addresses=False)
    assert code_of(cast, cast.north) == "geocoding_off"
    TravelChoices.objects.update(look_up_addresses=True)
    settings.GEOCODER = ""
    assert code_of(cast, cast.north) == "geocoding_off"
    assert service.asked == []


def test_a_building_without_an_address_says_so(cast: Cast, service: Service) -> None:
    assert code_of(cast, cast.south) == "no_address"
    assert service.asked == []


def test_only_for_those_who_may_change_the_building(cast: Cast, service: Service) -> None:
    for other in (cast.office, cast.stranger):
        with pytest.raises(ApplicationError):
            building_geocode(actor=other, row=cast.north)
    assert service.asked == []


def page(cast: Cast, **sent: str) -> tuple[int, str]:
    """The page that finds a place, posted to."""
    answer = signed_in(cast.teacher).post(reverse("building_place", args=[cast.north.pk]), sent)
    return answer.status_code, answer.content.decode()


def test_the_page_offers_the_places_and_takes_the_one_chosen(cast: Cast, service: Service) -> None:
    address(cast.north, "Hollow Road")
    asked = signed_in(cast.teacher).get(reverse("building_place", args=[cast.north.pk]))
    assert "is sent to the address service" in asked.content.decode()
    assert service.asked == []
    status, text = page(cast)
    assert status == 200
    assert "Hollow Road, Tarn" in text
    assert "Hollow Road, Fells" in text
    assert page(cast, latitude="41.0", longitude="-74.0")[0] == 302
    cast.north.refresh_from_db()
    assert (str(cast.north.latitude), str(cast.north.longitude)) == ("41.000000", "-74.000000")


@pytest.mark.parametrize("latitude", ["", "north", "91"])
def test_the_page_takes_no_place_that_is_none(cast: Cast, service: Service, latitude: str) -> None:
    status, text = page(cast, latitude=latitude, longitude="-74.0")
    assert status == 422
    assert "a place on the map. Look up the address again." in text


def test_the_page_says_that_it_is_turned_off(cast: Cast) -> None:
    assert "turned off in this district" in page(cast)[1]
