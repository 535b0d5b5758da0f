"""Coordinates that can't be right are asked about, by name, with what was probably meant."""

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_bells, make_ground, make_line
from tests.schedule.runs import plan_now
from travel.drives.selectors import drive_table
from travel.places.likely import FAR_MILES, Placed, far_words, place_question
from travel.places.models import Building
from travel.places.services import building_save
from travel.roads.base import Point

NORTH = Placed("North School", Point(43.10, -75.20))
SOUTH = Placed("South School", Point(43.02, -75.25))
OTHERS = (NORTH, SOUTH)


def asked(latitude: float, longitude: float) -> str:
    return place_question(Placed("West School", Point(latitude, longitude)), OTHERS)


@pytest.mark.parametrize(
    ("latitude", "longitude", "words"),
    [
        (-75.31, 43.08, "Latitude and longitude seem to be swapped."),
        (75.31, 43.08, "Latitude and longitude seem to be swapped, and a minus sign wrong."),
        (43.08, 75.31, "A minus sign seems to be wrong."),
        (-43.08, -75.31, "A minus sign seems to be wrong."),
        (51.48, 0.0, "Check latitude and longitude."),
    ],
)
def test_what_was_probably_meant(latitude: float, longitude: float, words: str) -> None:
    """43.08 north, 75.31 west lies beside the two others; Greenwich lies nowhere near, however it is turned."""
    said = asked(latitude, longitude)
    assert said.startswith("West School would lie ")
    assert words in said
    assert ("latitude 43.08 and longitude -75.31?" in said) is (words != "Check latitude and longitude.")


def test_a_degree_of_latitude_is_69_miles() -> None:
    """So three degrees north (207 miles) are asked about, and 2.8 (193) aren't; a degree from any table: 69.0."""
    assert asked(43.10 + 2.8, -75.20) == ""
    assert "207 miles from North School, the nearest building" in asked(43.10 + 3.0, -75.20)
    assert FAR_MILES == 200


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5))
def test_nobody_is_asked_about_a_place_in_the_district(north: float, east: float) -> None:
    """Half a degree is at most 35 miles."""
    assert asked(43.06 + north, -75.22 + east) == ""


def test_the_first_building_is_far_from_nothing() -> None:
    assert place_question(NORTH, ()) == ""
    assert far_words({1: NORTH}) == far_words({1: NORTH, 2: SOUTH}) == ()


def test_two_that_are_far_apart_share_one_sentence() -> None:
    swapped = Placed("West School", Point(-75.31, 43.08))
    [said] = far_words({1: NORTH, 2: swapped})
    assert "North School" in said
    assert "West School" in said
    [named] = far_words({1: NORTH, 2: SOUTH, 3: swapped})
    assert named.startswith("West School lies ")


SWAPPED = {"code": "WEST", "name": "West Hollow School", "latitude": "-75.31", "longitude": "43.08"}


def test_the_service_asks_and_saves_what_was_said_to_be_right(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        building_save(actor=cast.coordinator, row=Building(), values=SWAPPED)
    [said] = caught.value.message_dict["latitude"]
    assert said.startswith("West Hollow School would lie ")
    assert not Building.objects.filter(code="WEST").exists()
    row = building_save(actor=cast.coordinator, row=Building(), values={**SWAPPED, "place_is_right": True})
    renamed = building_save(actor=cast.coordinator, row=row, values={"name": "West"})
    assert renamed.name == "West", "coordinates that stay aren't asked about again"


def test_the_form_asks_once(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.coordinator)
    values = {**SWAPPED, "level": "elementary", "arrive_minutes": "5", "leave_minutes": "3"}
    first = client.post(reverse("building_new"), values)
    page = first.content.decode()
    assert "Latitude and longitude seem to be swapped." in page
    assert "It is right: save it" in page
    assert not Building.objects.filter(code="WEST").exists()
    done = client.post(reverse("building_new"), {**values, "effects_seen": first.context["effects_seen"]})
    assert done.status_code == 302
    assert Building.objects.filter(code="WEST").exists()


def test_the_api_asks_and_takes_the_answer(cast: Cast) -> None:
    api = Api(cast.coordinator)
    problem = api.post("buildings/", expect=400, **SWAPPED)
    assert "swapped" in problem["fields"]["latitude"][0]
    added = api.post("buildings/", expect=201, place_is_right=True, **SWAPPED)
    assert "place_is_right" not in added


def test_a_choice_of_places_asks_too(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.coordinator)
    page = client.post(
        reverse("building_place", args=[cast.north.pk]), {"latitude": "-75.31", "longitude": "43.08"}
    )
    assert "seem to be swapped" in page.content.decode()
    cast.north.refresh_from_db()
    assert float(cast.north.latitude or 0) == 43.10


def test_one_that_lies_far_off_stops_no_other_buildings_week(cast: Cast) -> None:
    """It said "14337 is not between 0 and 1440 minutes" and planned nothing; now it is named, the rest planned."""
    make_ground(cast)
    values = {**SWAPPED, "place_is_right": True}
    west = building_save(actor=cast.coordinator, row=Building(), values=values)
    make_bells(west)
    make_line(cast, "F9", building=west)
    table = drive_table(cast.teacher, [cast.north, cast.south, west])
    [said] = [one for one in table.warnings if "miles from" in one]
    assert said.startswith("West Hollow School lies ")
    run = plan_now(cast.teacher, MONDAY, date(4), seconds=5)
    placed = run.weeks.get().sessions.values_list("building__code", flat=True)
    assert list(placed).count("NORTH") == 2, "two a week are owed there (tests.conftest)"
