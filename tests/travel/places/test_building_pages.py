"""Pages of buildings, spaces and own drive times, as each of the cast meets them."""

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from tests.conftest import Cast
from travel.drives.models import OwnDriveTime
from travel.places.models import Building, Space

BACKEND = "accounts.sign_in.backends.PasswordBackend"
BUILDING = {
    "name": "East Hollow School",
    "code": "EAST",
    "level": "elementary",
    "latitude": "43.2",
    "longitude": "-75.3",
    "arrive_minutes": "5",
    "leave_minutes": "3",
}


def signed_in(person: Person) -> Client:
    """A browser in which the person has signed in."""
    client = Client()
    client.force_login(person, backend=BACKEND)
    return client


def test_the_list_shows_what_the_person_sees(cast: Cast) -> None:
    """The office its own building, the stranger none, and only those who may add are offered it."""
    pages = {
        name: signed_in(getattr(cast, name)).get(reverse("building_list")).content.decode()
        for name in ("teacher", "office", "stranger")
    }
    assert "North Hollow" in pages["teacher"]
    assert "South Hollow" in pages["teacher"]
    assert "South Hollow" not in pages["office"]
    assert "Hollow" not in pages["stranger"]
    add = reverse("building_new")
    assert [add in pages[name] for name in ("teacher", "office", "stranger")] == [True, False, True]


def test_a_building_is_added_and_changed(cast: Cast) -> None:
    """After each the person stands on the building's page and reads that it worked."""
    client = signed_in(cast.teacher)
    page = client.post(reverse("building_new"), BUILDING, follow=True)
    row = Building.objects.get(code="EAST")
    assert page.redirect_chain[-1][0] == reverse("building_detail", args=[row.pk])
    assert "The building is saved." in page.content.decode()
    changed = {**BUILDING, "name": "East Hollow Elementary"}
    client.post(reverse("building_change", args=[row.pk]), changed)
    row.refresh_from_db()
    assert row.name == "East Hollow Elementary"


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        (
            {"latitude": "43.10", "longitude": "-75.20"},
            "longitude",
            "Another building has these coordinates.",
        ),
        ({"code": "NORTH"}, "code", "Another building has this code."),
        ({"time_zone": "Mars/Base"}, "time_zone", "a time zone. Use a name such as"),
        ({"name": ""}, "name", "Fill this in."),
        ({"arrive_minutes": "soon"}, "arrive_minutes", "whole number"),
    ],
)
def test_what_is_wrong_stands_at_the_top_and_at_the_field(
    cast: Cast, change: dict[str, str], field: str, words: str
) -> None:
    """The summary links to the input; what was typed is still there."""
    answer = signed_in(cast.teacher).post(reverse("building_new"), {**BUILDING, **change})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'<a href="#id_{field}">' in page
    assert page.count(words) == 2
    assert "New building" in page
    assert not Building.objects.filter(name="East Hollow School").exists()


ROUTES = ["building_change", "building_delete", "space_new", "space_change", "space_delete"]


@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_the_stranger_gets_404_and_the_office_403(cast: Cast, route: str, method: str) -> None:
    """Another district's rows look as if they weren't there; the office reads only."""
    pk = cast.gym.pk if route in {"space_change", "space_delete"} else cast.north.pk
    address = reverse(route, args=[pk])
    seen = [
        getattr(signed_in(person), method)(address).status_code
        for person in (cast.stranger, cast.office, cast.substitute)
    ]
    assert seen == [404, 403, 403]
    assert Building.objects.count() == 2
    assert Space.objects.count() == 1


def test_a_space_is_added_to_its_building_and_deleted(cast: Cast) -> None:
    """The question comes first; a GET deletes nothing."""
    client = signed_in(cast.teacher)
    client.post(
        reverse("space_new", args=[cast.north.pk]), {"name": "Pool", "kind": "pool", "classes_that_fit": "2"}
    )
    pool = Space.objects.get(name="Pool")
    assert pool.building == cast.north
    address = reverse("space_delete", args=[pool.pk])
    assert "Pool" in client.get(address).content.decode()
    assert Space.objects.filter(pk=pool.pk).exists()
    client.post(address)
    assert not Space.objects.filter(pk=pool.pk).exists()


def test_a_building_that_is_needed_is_kept_and_says_why(cast: Cast) -> None:
    """The question is not even asked; sent all the same, the person is back at the building."""
    asked = signed_in(cast.teacher).get(reverse("building_delete", args=[cast.north.pk])).content.decode()
    assert "still used by students" in asked
    assert 'type="submit">Delete' not in asked
    page = signed_in(cast.teacher).post(reverse("building_delete", args=[cast.north.pk]), follow=True)
    assert "is still used by students" in page.content.decode()
    assert Building.objects.filter(pk=cast.north.pk).exists()


def test_own_drive_times_are_the_teachers_own(cast: Cast) -> None:
    """A team mate can't write into another's rules; the coordinator can."""
    values = {"origin": cast.north.pk, "destination": cast.south.pk, "minutes": "14", "both_ways": "on"}
    address = reverse("own_drive_time_new", args=[cast.teacher.pk])
    assert signed_in(cast.mate).post(address, values).status_code == 404
    assert signed_in(cast.coordinator).post(address, values).status_code == 302
    row = OwnDriveTime.objects.get()
    assert (row.teacher, row.minutes) == (cast.teacher, 14)
    assert signed_in(cast.mate).get(reverse("own_drive_time_change", args=[row.pk])).status_code == 404
    missing = signed_in(cast.teacher).post(address, {"minutes": "14"})
    assert missing.status_code == 422
    assert "From: Choose one." in missing.content.decode()
