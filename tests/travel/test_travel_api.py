"""The API of buildings, spaces and own drive times."""

import pytest

from accounts.models import AuditEntry
from tests.api import Api
from tests.conftest import Cast
from travel.drives.models import OwnDriveTime
from travel.places.models import Building, Space

pytestmark = pytest.mark.django_db


def test_a_building_is_added_changed_and_deleted(cast: Cast) -> None:
    """Through the services: audited, and in the asker's own district."""
    api = Api(cast.teacher)
    added = api.post("buildings/", code="EAST", name="East Hollow School", latitude="43.05", longitude="-75.10")
    assert added["arrive_minutes"] == 5
    assert Building.objects.get(pk=added["id"]).district == cast.district
    assert AuditEntry.objects.filter(action="building_save", object_id=str(added["id"])).exists()
    changed = api.patch(f"buildings/{added['id']}/", arrive_minutes=12)
    assert (changed["arrive_minutes"], changed["name"]) == (12, "East Hollow School")
    api.delete(f"buildings/{added['id']}/")
    api.get(f"buildings/{added['id']}/", expect=404)


def test_buildings_are_listed_in_pages(cast: Cast) -> None:
    """Every building of the district and none of another."""
    Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    listed = Api(cast.teacher).get("buildings/")
    assert listed["count"] == 2
    assert [row["code"] for row in listed["results"]] == ["NORTH", "SOUTH"]
    assert [row["code"] for row in Api(cast.office).get("buildings/")["results"]] == ["NORTH"]


def test_a_building_that_breaks_rules_is_refused_by_field(cast: Cast) -> None:
    """A code that exists, coordinates taken, a zone that doesn't exist: each at its field, nothing saved."""
    error = Api(cast.teacher).post(
        "buildings/", expect=400, code="NORTH", name="Other", latitude="43.10", longitude="-75.20", time_zone="Mars"
    )
    assert error["code"] == "invalid"
    assert "time_zone" in error["fields"]
    error = Api(cast.teacher).post("buildings/", expect=400, code="NORTH", name="Other")
    assert error["fields"] == {"code": ["Another building has this code."]}
    assert Building.objects.count() == 2


def test_a_misspelled_field_is_named(cast: Cast) -> None:
    """It isn't left out in silence."""
    error = Api(cast.teacher).patch(f"buildings/{cast.north.pk}/", expect=400, arive_minutes=3)
    assert error["fields"] == {"arive_minutes": ["There is no such field here. Check its name."]}


def test_a_building_in_use_is_not_deleted(cast: Cast) -> None:
    """The error says what uses it."""
    error = Api(cast.teacher).delete(f"buildings/{cast.north.pk}/", expect=409)
    assert error["code"] == "still_used"
    assert "students" in error["message"]


def test_spaces_of_a_building(cast: Cast) -> None:
    """Added, filtered by building, and never in a building that can't be seen."""
    api = Api(cast.teacher)
    api.post("spaces/", building=cast.south.pk, name="Field", kind="field")
    assert [row["name"] for row in api.get("spaces/", building=cast.south.pk)["results"]] == ["Field"]
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    error = api.post("spaces/", expect=400, building=far.pk, name="Pool")
    assert list(error["fields"]) == ["building"]
    assert Space.objects.count() == 2


def test_a_filter_tells_nothing_about_other_districts(cast: Cast) -> None:
    """A building of another district and one that isn't there give the same empty list."""
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    api = Api(cast.teacher)
    assert api.get("spaces/", building=far.pk) == api.get("spaces/", building=10**9)
    assert api.get("spaces/", expect=400, building="x")["fields"] == {"building": ["Enter a whole number."]}


def test_own_drive_times_are_the_askers_own(cast: Cast) -> None:
    """A teacher need not name themself; a team mate sees nothing of it, the coordinator does."""
    pair = {"origin": cast.north.pk, "destination": cast.south.pk, "minutes": 14}
    added = Api(cast.teacher).post("own-drive-times/", **pair)
    assert added["teacher"] == cast.teacher.pk
    Api(cast.mate).get(f"own-drive-times/{added['id']}/", expect=404)
    Api(cast.mate).patch(f"own-drive-times/{added['id']}/", expect=404, minutes=1)
    assert Api(cast.coordinator).get("own-drive-times/")["count"] == 1
    Api(cast.teacher).patch(f"own-drive-times/{added['id']}/", minutes=15, miles="7.4")
    row = OwnDriveTime.objects.get()
    assert (row.minutes, str(row.miles)) == (15, "7.4")


def test_a_teacher_enters_no_minutes_for_a_mate(cast: Cast) -> None:
    """Others' rows are theirs."""
    pair = {"origin": cast.north.pk, "destination": cast.south.pk, "minutes": 14}
    Api(cast.teacher).post("own-drive-times/", expect=404, teacher=cast.mate.pk, **pair)
    assert not OwnDriveTime.objects.exists()
