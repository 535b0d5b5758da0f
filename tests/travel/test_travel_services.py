"""Saving buildings, spaces and own drive times."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from tests.conftest import Cast
from travel.drives.models import OwnDriveTime
from travel.drives.services import own_drive_time_save
from travel.places.models import Building, Space
from travel.places.services import building_delete, building_save, space_delete, space_save


def test_a_building_gets_the_actors_district_and_an_audit_entry(cast: Cast) -> None:
    """Who did it and what it was before are kept."""
    row = building_save(actor=cast.teacher, row=Building(), values={"code": "EAST", "name": "East Hollow School"})
    building_save(actor=cast.coordinator, row=row, values={"name": "East Hollow Elementary"})
    assert row.district == cast.district
    entry = AuditEntry.objects.filter(model="travel.building", object_id=str(row.pk)).first()
    assert entry is not None
    assert entry.actor == cast.coordinator
    assert entry.changes == {"name": ["East Hollow School", "East Hollow Elementary"]}


@pytest.mark.parametrize(
    ("values", "field", "part"),
    [
        ({"latitude": Decimal("43.10"), "longitude": Decimal("-75.20")}, "longitude", "these coordinates"),
        ({"latitude": Decimal("43.50"), "longitude": None}, "longitude", "both"),
        ({"time_zone": "America/Nowhere"}, "time_zone", "America/Chicago"),
        ({"code": "NORTH"}, "code", "has this code"),
        ({"name": ""}, "name", "missing"),
    ],
)
def test_what_is_wrong_with_a_building_stands_at_its_field(
    cast: Cast, values: dict[str, object], field: str, part: str
) -> None:
    """Two at one place, half a place, no such time zone, a code twice, no name."""
    with pytest.raises(ValidationError) as caught:
        building_save(
            actor=cast.teacher,
            row=Building(),
            values={"code": "EAST", "name": "East Hollow School", **values},
        )
    assert list(caught.value.message_dict) == [field]
    assert part in caught.value.message_dict[field][0]
    assert Building.objects.count() == 2


def test_the_office_reads_and_the_stranger_does_not_even_see(cast: Cast) -> None:
    """403 for the role; 404 for another district, as if it weren't there."""
    with pytest.raises(ApplicationError) as refused:
        building_save(actor=cast.office, row=cast.north, values={"name": "Changed"})
    assert refused.value.status == 403
    with pytest.raises(ApplicationError) as unseen:
        building_save(actor=cast.stranger, row=cast.north, values={"name": "Changed"})
    assert unseen.value.status == 404
    with pytest.raises(ApplicationError) as parent:
        space_save(actor=cast.stranger, row=Space(building=cast.north), values={"name": "Field"})
    assert parent.value.status == 404
    assert Building.objects.get(pk=cast.north.pk).name == "North Hollow School"


def test_a_building_with_students_stays(cast: Cast) -> None:
    """And the message names what still needs it; a space without use goes."""
    with pytest.raises(ApplicationError) as caught:
        building_delete(actor=cast.teacher, row=cast.north)
    assert "students" in caught.value.message
    space_delete(actor=cast.teacher, row=cast.gym)
    assert not Space.objects.exists()


def test_own_minutes_are_the_teachers_own(cast: Cast) -> None:
    """Nobody but the coordinator writes minutes for someone else, and the way back isn't said twice."""
    pair = {"origin": cast.north, "destination": cast.south, "minutes": 14}
    row = own_drive_time_save(actor=cast.teacher, row=OwnDriveTime(), values=pair)
    assert (row.teacher, row.district) == (cast.teacher, cast.district)
    with pytest.raises(ApplicationError):
        own_drive_time_save(actor=cast.mate, row=OwnDriveTime(), values={**pair, "teacher": cast.teacher})
    back = {"origin": cast.south, "destination": cast.north, "minutes": 20}
    with pytest.raises(ValidationError) as caught:
        own_drive_time_save(actor=cast.teacher, row=OwnDriveTime(), values=back)
    assert list(caught.value.message_dict) == ["both_ways"]
    with pytest.raises(ValidationError) as same:
        own_drive_time_save(actor=cast.mate, row=OwnDriveTime(), values={**pair, "destination": cast.north})
    assert "two different buildings" in str(same.value)
