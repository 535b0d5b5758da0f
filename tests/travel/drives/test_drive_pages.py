"""Pages of drives: sources in words, the rush, logged drives, the district's choices, and the week's tightest."""

import datetime as dt

import pytest
from django.urls import reverse

from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_week
from tests.travel.drives.test_drive_table import enter_minutes
from tests.travel.places.test_building_pages import signed_in
from travel.drives.models import DriveFactor, DriveLog
from travel.places.models import Building
from travel.roads.models import TravelChoices

pytestmark = pytest.mark.django_db


def drives(cast: Cast) -> str:
    """The teacher's page of drives."""
    answer = signed_in(cast.teacher).get(reverse("drives"))
    assert answer.status_code == 200
    return answer.content.decode()


def send(cast: Cast, name: str, *at_: int, **sent: object) -> tuple[int, str]:
    """A form sent by the teacher."""
    answer = signed_in(cast.teacher).post(reverse(name, args=at_), sent)
    return answer.status_code, answer.content.decode()


def test_the_page_says_where_minutes_come_from(cast: Cast) -> None:
    assert '<td data-label="Where it comes from">estimate</td>' in drives(cast)
    enter_minutes(cast.teacher, cast.north, cast.south, 17)
    assert "measured by you" in drives(cast)
    assert "No roads are prepared" in drives(cast)


def test_the_page_names_what_is_missing_and_needs_no_building(cast: Cast) -> None:
    Building.objects.filter(pk=cast.north.pk).update(latitude=None, longitude=None)
    assert "North Hollow School has no coordinates" in drives(cast)
    page = signed_in(cast.stranger).get(reverse("drives"))
    assert "No buildings yet" in page.content.decode()


def test_a_drive_is_logged_by_clock_times_of_the_building(cast: Cast) -> None:
    """New York keeps four hours behind UTC in October."""
    drive = {"date": "2026-10-05", "origin": cast.north.pk, "destination": cast.south.pk}
    status, _ = send(cast, "drive_log_new", left="09:00", arrived="09:14", **drive)
    row = DriveLog.objects.get()
    assert status == 302
    assert row.started_at == dt.datetime(2026, 10, 5, 13, 0, tzinfo=dt.UTC)
    assert row.minutes == 14
    page = signed_in(cast.teacher).get(reverse("drive_log_change", args=[row.pk])).content.decode()
    assert 'value="09:14"' in page
    assert send(cast, "drive_log_change", row.pk, left="09:00", arrived="09:20", **drive)[0] == 302
    row.refresh_from_db()
    assert row.minutes == 20
    assert "20 minutes" in drives(cast)
    assert send(cast, "drive_log_delete", row.pk)[0] == 302
    assert not DriveLog.objects.exists()


def test_an_unchanged_tap_keeps_its_seconds(cast: Cast) -> None:
    started = dt.datetime(2026, 10, 5, 13, 0, 41, tzinfo=dt.UTC)
    row = DriveLog.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        origin=cast.north,
        destination=cast.south,
        date=started.date(),
        started_at=started,
        arrived_at=started + dt.timedelta(minutes=9),
    )
    drive = {"date": "2026-10-05", "origin": cast.north.pk, "destination": cast.south.pk}
    assert send(cast, "drive_log_change", row.pk, left="09:00", arrived="09:09", note="Rain", **drive)[0] == 302
    row.refresh_from_db()
    assert (row.started_at, row.note) == (started, "Rain")


@pytest.mark.parametrize(
    ("times", "words"),
    [
        ({"left": "09:00", "arrived": "08:00"}, "arrive before you start"),
        ({}, "Give the time that you started"),
        ({"left": "09:00", "odometer_before": "5", "odometer_after": "4"}, "show less"),
    ],
)
def test_what_is_no_drive_says_so(cast: Cast, times: dict[str, str], words: str) -> None:
    drive = {"date": "2026-10-05", "origin": cast.north.pk, "destination": cast.south.pk}
    status, text = send(cast, "drive_log_new", **times, **drive)
    assert status == 422
    assert words in text
    assert not DriveLog.objects.exists()


def test_the_rush_and_the_choices(cast: Cast) -> None:
    assert (
        send(cast, "drive_factor_new", start="07:30", end="08:15", factor="1.25", reason="Morning bell")[0] == 302
    )
    assert "1.25 times as long" in drives(cast)
    assert send(cast, "drive_factor_delete", DriveFactor.objects.get().pk)[0] == 302
    for percentile in ("80", "90"):
        assert send(cast, "travel_choices", drive_percentile=percentile)[0] == 302
    assert TravelChoices.objects.get().drive_percentile == 90
    assert "90 of 100 drives" in drives(cast)


def test_the_week_names_its_tightest_drive(cast: Cast) -> None:
    make_ground(cast)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "8:30")])
    week.items.create(
        date=MONDAY,
        kind="drive",
        start=at("7:40"),
        end=at("8:05"),
        origin=cast.south,
        building=cast.north,
        drive_minutes=15,
        source="estimate",
    )
    page = signed_in(cast.teacher).get(reverse("week_version", args=[week.pk])).content.decode()
    assert "The tightest is Monday from South Hollow School to North Hollow School" in page
    assert "Drive, 15 min (estimate)" in page
    assert "no drive logged yet" in page


def test_prepared_roads_can_be_turned_off_where_there_are_some(cast: Cast) -> None:
    page = signed_in(cast.coordinator).get(reverse("travel_choices")).content.decode()
    assert "Use the prepared roads" not in page
    assert "Nobody has said" in page
    choices = TravelChoices.objects.create(district=cast.district, roads_key="0" * 64, roads_name="county.osm.pbf")
    page = signed_in(cast.coordinator).get(reverse("travel_choices")).content.decode()
    assert "Use the prepared roads" in page
    assert send(cast, "travel_choices", roads_between="country")[0] == 302
    choices.refresh_from_db()
    assert (choices.use_roads, choices.roads_between) == (False, "country")
    assert send(cast, "travel_choices", use_roads="on", roads_between="")[0] == 302
    choices.refresh_from_db()
    assert (choices.use_roads, choices.roads_between) == (True, "")


def test_the_districts_page_says_that_roads_are_turned_off(cast: Cast) -> None:
    TravelChoices.objects.create(
        district=cast.district, roads_key="0" * 64, roads_name="county.osm.pbf", use_roads=False
    )
    page = signed_in(cast.coordinator).get(reverse("district")).content.decode()
    assert "county.osm.pbf is prepared and not used." in page
    assert "Nobody has said what the roads are like" in page
