"""The API of drives: taps, factors, choices, the table of drive times, and places for an address."""

import datetime as dt
from typing import Any

import pytest

from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_week
from tests.travel.drives.test_drive_table import enter_minutes
from travel.drives.api import MOST_BUILDINGS
from travel.drives.models import DriveFactor, DriveLog
from travel.places.models import Building
from travel.roads.models import TravelChoices

pytestmark = pytest.mark.django_db

TAP = "2026-10-05T15:00:00Z"


def test_taps_make_a_drive_and_drives_make_a_time(cast: Cast) -> None:
    """North and south lie about 13 minutes apart by the estimate; the teacher takes 20 again and again."""
    api = Api(cast.teacher)
    pair = {"origin": cast.north.pk, "destination": cast.south.pk}
    before = api.get("drive-times/", buildings=[cast.north.pk, cast.south.pk])["legs"][0]
    for day in range(1, 6):
        started = dt.datetime(2026, 10, day, 15, tzinfo=dt.UTC)
        row = api.post("drive-logs/start/", at=started.isoformat(), **pair)
        assert row["minutes"] is None
        arrived = (started + dt.timedelta(minutes=20)).isoformat()
        assert api.post(f"drive-logs/{row['id']}/arrive/", expect=200, at=arrived)["minutes"] == 20
    after = api.get("drive-times/", buildings=[cast.north.pk, cast.south.pk])["legs"][0]
    assert (before["source"], before["source_words"], before["drives"]) == ("estimate", "estimate", 0)
    assert (after["source"], after["source_words"], after["drives"]) == ("learned", "learned", 5)
    assert before["usual_minutes"] < after["usual_minutes"] < 20 < after["minutes_90"]


def test_a_tap_sent_twice_is_one_drive(cast: Cast) -> None:
    api = Api(cast.teacher)
    tap: dict[str, Any] = {"origin": cast.north.pk, "destination": cast.south.pk, "at": TAP}
    assert api.post("drive-logs/start/", **tap)["id"] == api.post("drive-logs/start/", **tap)["id"]
    assert DriveLog.objects.count() == 1


def test_a_tap_into_another_district_is_refused_by_field(cast: Cast) -> None:
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    tap: dict[str, Any] = {"origin": cast.north.pk, "destination": far.pk, "at": TAP}
    assert list(Api(cast.teacher).post("drive-logs/start/", expect=400, **tap)["fields"]) == ["destination"]


def test_drives_are_added_corrected_and_deleted_by_hand(cast: Cast) -> None:
    api = Api(cast.teacher)
    drive: dict[str, Any] = {"origin": cast.north.pk, "destination": cast.south.pk, "date": "2026-10-05"}
    row = api.post("drive-logs/", odometer_before="41230.5", odometer_after="41237.0", **drive)
    error = api.patch(f"drive-logs/{row['id']}/", expect=400, odometer_after="41230.0")
    assert list(error["fields"]) == ["odometer_after"]
    Api(cast.mate).get(f"drive-logs/{row['id']}/", expect=404)
    assert Api(cast.coordinator).get("drive-logs/", teacher=cast.teacher.pk)["count"] == 1
    api.delete(f"drive-logs/{row['id']}/")
    assert not DriveLog.objects.exists()


def test_a_time_of_day_is_asked_for(cast: Cast) -> None:
    """Twice as long before eight; without a time the worst of the day counts."""
    api = Api(cast.teacher)
    api.post("drive-factors/", start="07:00", end="08:00", factor="2.00", reason="Morning bell")
    times = ["07:30", "12:00"]
    rush, calm = (api.get("drive-times/", at=time)["legs"][0]["usual_minutes"] for time in times)
    day = api.get("drive-times/")["legs"][0]["usual_minutes"]
    assert rush == day == pytest.approx(2 * calm, abs=0.1)
    assert DriveFactor.objects.get().district == cast.district


def test_own_minutes_and_gaps_say_so(cast: Cast) -> None:
    Building.objects.create(district=cast.district, code="LOST", name="Unmapped School")
    enter_minutes(cast.teacher, cast.north, cast.south, 17)
    found = Api(cast.teacher).get("drive-times/")
    assert {leg["source_words"] for leg in found["legs"]} == {"measured by you"}
    assert len(found["missing"]) == 4
    assert "Unmapped School has no coordinates" in found["missing"][0]


def test_choices_are_one_row_and_roads_are_the_operators(cast: Cast) -> None:
    api = Api(cast.teacher)
    row = api.post("travel-choices/", drive_percentile=80)
    assert row["look_up_addresses"] is False
    api.post("travel-choices/", expect=400, drive_percentile=90)
    api.patch(f"travel-choices/{row['id']}/", roads_name="elsewhere.osm.pbf", look_up_addresses=True)
    assert TravelChoices.objects.get().roads_name == ""
    Api(cast.office).patch(f"travel-choices/{row['id']}/", expect=403, look_up_addresses=False)


def test_an_address_is_not_sent_unless_turned_on(cast: Cast) -> None:
    error = Api(cast.teacher).post(f"buildings/{cast.north.pk}/geocode/", expect=409)
    assert error["code"] == "geocoding_off"


def test_the_arrivals_of_a_week(cast: Cast) -> None:
    make_ground(cast)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "8:30")])
    found = Api(cast.teacher).get(f"weeks/{week.pk}/arrivals/")
    assert found == {"legs": [], "tightest": None, "pairs": []}
    Api(cast.office).get(f"weeks/{week.pk}/arrivals/", expect=403)


def test_a_long_districts_table_is_between_named_buildings(cast: Cast) -> None:
    """The remedy stands with the field; named ones are answered, up to as many as a table holds."""
    added = [
        Building.objects.create(
            district=cast.district, code=f"B{number:02}", name=f"School {number:02}",
            latitude=f"43.{number:03}", longitude="-75.5",
        )
        for number in range(MOST_BUILDINGS - 1)
    ]  # fmt: skip
    api = Api(cast.teacher)
    [words] = api.get("drive-times/", expect=400)["fields"]["buildings"]
    assert words.startswith("Name the buildings: there are more than 30")
    some = [cast.north.pk, *(one.pk for one in added)]
    assert len(api.get("drive-times/", buildings=some)["legs"]) == MOST_BUILDINGS * (MOST_BUILDINGS - 1)
    [words] = api.get("drive-times/", expect=400, buildings=[*some, cast.south.pk])["fields"]["buildings"]
    assert words == "Name at most 30 buildings at once."
    added[0].delete()
    assert len(api.get("drive-times/")["legs"]) == MOST_BUILDINGS * (MOST_BUILDINGS - 1)
