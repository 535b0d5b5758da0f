"""Taps and drives by hand, factors and choices: who may, what is refused, and a tap sent twice."""

import datetime as dt
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from pytest_django.fixtures import Settings

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from tests.conftest import Cast
from travel.drives.models import DriveFactor, DriveLog
from travel.drives.services import (
    drive_arrive,
    drive_factor_delete,
    drive_factor_save,
    drive_log_delete,
    drive_log_save,
    drive_start,
    travel_choices_save,
)
from travel.places.models import Building
from travel.roads.models import TravelChoices

# A Monday evening in New York and already Tuesday in UTC.
LATE = dt.datetime(2026, 10, 6, 1, 30, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)


def start(cast: Cast, at: dt.datetime = LATE) -> DriveLog:
    """The teacher leaves the north building."""
    return drive_start(actor=cast.teacher, origin=cast.north, destination=cast.south, at=at)


def test_two_taps_make_a_drive_on_the_local_date(cast: Cast) -> None:
    row = drive_arrive(actor=cast.teacher, row=start(cast), at=LATE + 14 * MINUTE)
    assert (row.date, row.minutes, row.start_minute) == (dt.date(2026, 10, 5), 14, 21 * 60 + 30)
    assert AuditEntry.objects.filter(action="drive_log_save", object_id=str(row.pk)).count() == 2


def test_a_tap_sent_twice_is_one(cast: Cast) -> None:
    first = start(cast)
    assert start(cast).pk == first.pk
    once = drive_arrive(actor=cast.teacher, row=first, at=LATE + 14 * MINUTE)
    again = drive_arrive(actor=cast.teacher, row=once, at=LATE + 14 * MINUTE)
    assert again.minutes == 14
    assert AuditEntry.objects.filter(action="drive_log_save").count() == 2
    with pytest.raises(ApplicationError) as caught:
        drive_arrive(actor=cast.teacher, row=once, at=LATE + 15 * MINUTE)
    assert caught.value.code == "already_arrived"


def test_the_clock_change_lengthens_no_drive(cast: Cast) -> None:
    """November 1, 2026, 2:00 becomes 1:00 in New York (Pub. L. 109-58, section 110): 20 minutes stay 20."""
    before = dt.datetime(2026, 11, 1, 5, 50, tzinfo=dt.UTC)
    row = drive_arrive(actor=cast.teacher, row=start(cast, before), at=before + 20 * MINUTE)
    assert (row.minutes, row.start_minute) == (20, 60 + 50)


BAD: list[tuple[dict[str, Any], str, str]] = [
    ({"arrived_at": LATE - MINUTE}, "arrived_at", "before you start"),
    ({"arrived_at": LATE + 241 * MINUTE}, "arrived_at", "more than four hours"),
    ({"started_at": None, "arrived_at": None}, "odometer_before", "or the odometer"),
    ({"odometer_before": "100", "odometer_after": "99"}, "odometer_after", "show less"),
    ({"odometer_before": "100", "odometer_after": "500"}, "odometer_after", "both readings"),
    ({"odometer_after": "500"}, "odometer_after", "show less"),
]


@pytest.mark.parametrize(("values", "field", "words"), BAD)
def test_what_is_no_drive_is_refused_at_its_field(
    cast: Cast, values: dict[str, Any], field: str, words: str
) -> None:
    drive = {"origin": cast.north, "destination": cast.south, "date": LATE.date(), "started_at": LATE, **values}
    with pytest.raises(ValidationError) as caught:
        drive_log_save(actor=cast.teacher, row=DriveLog(), values=drive)
    assert words in str(caught.value.message_dict[field])
    assert not DriveLog.objects.exists()


def test_a_drive_leads_elsewhere(cast: Cast) -> None:
    with pytest.raises(ValidationError, match="two different buildings"):
        drive_start(actor=cast.teacher, origin=cast.north, destination=cast.north, at=LATE)


def test_an_odometer_alone_is_a_drive_on_the_date_given(cast: Cast) -> None:
    drive = {
        "origin": cast.north,
        "destination": cast.south,
        "odometer_before": "41230.5",
        "odometer_after": "41237",
    }
    row = drive_log_save(actor=cast.teacher, row=DriveLog(), values={**drive, "date": dt.date(2026, 10, 5)})
    assert (row.minutes, row.date) == (None, dt.date(2026, 10, 5))


def test_drives_are_ones_own(cast: Cast) -> None:
    row = start(cast)
    assert list(DriveLog.objects.visible_to(cast.mate)) == []
    assert list(DriveLog.objects.visible_to(cast.coordinator)) == [row]
    assert list(DriveLog.objects.visible_to(cast.stranger)) == []
    for other in (cast.mate, cast.stranger, cast.office, cast.substitute):
        with pytest.raises(ApplicationError):
            drive_log_save(actor=other, row=row, values={"note": "mine now"})
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    with pytest.raises(ValidationError):
        drive_start(actor=cast.teacher, origin=cast.north, destination=far, at=LATE + MINUTE)
    drive_log_delete(actor=cast.teacher, row=row)
    assert not DriveLog.objects.exists()


def test_factors_are_the_districts(cast: Cast) -> None:
    values = {"start": dt.time(7, 30), "end": dt.time(8, 15), "factor": "1.25", "reason": "Morning bell"}
    row = drive_factor_save(actor=cast.teacher, row=DriveFactor(), values=values)
    assert list(DriveFactor.objects.visible_to(cast.mate)) == [row]
    assert list(DriveFactor.objects.visible_to(cast.stranger)) == []
    with pytest.raises(ApplicationError):
        drive_factor_delete(actor=cast.office, row=row)
    drive_factor_delete(actor=cast.mate, row=row)
    assert not DriveFactor.objects.exists()


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"end": dt.time(7)}, "start"),
        ({"factor": "0.4"}, "factor"),
        ({"factor": "5.01"}, "factor"),
    ],
)
def test_what_is_no_factor_is_refused(cast: Cast, values: dict[str, Any], field: str) -> None:
    good = {"start": dt.time(7, 30), "end": dt.time(8, 15), "factor": "1.25"}
    with pytest.raises(ValidationError) as caught:
        drive_factor_save(actor=cast.teacher, row=DriveFactor(), values={**good, **values})
    assert field in caught.value.message_dict or "end" in caught.value.message_dict


def test_a_factor_names_both_buildings_or_neither(cast: Cast) -> None:
    good = {"start": dt.time(7, 30), "end": dt.time(8, 15), "factor": "1.25"}
    with pytest.raises(ValidationError, match="Name both buildings"):
        drive_factor_save(actor=cast.teacher, row=DriveFactor(), values={**good, "origin": cast.north})


@pytest.mark.parametrize("percentile", [49, 100])
def test_a_percentile_that_is_none_is_refused(cast: Cast, percentile: int) -> None:
    with pytest.raises(ValidationError, match="drive_percentile"):
        travel_choices_save(actor=cast.teacher, row=TravelChoices(), values={"drive_percentile": percentile})


def prepare_roads(*words: str) -> str:
    """What the command prints."""
    out = StringIO()
    call_command("prepare_roads", *words, stdout=out)
    return out.getvalue()


def test_the_command_prepares_shows_progress_and_chooses(
    cast: Cast, helsinki: Path, tmp_path: Path, settings: Settings
) -> None:
    settings.ROADS_DIR = tmp_path
    in_helsinki(cast.north, cast.south)
    said = prepare_roads(str(helsinki), "--district", cast.district.name)
    assert "It reaches 2 of 2 buildings." in said
    assert "Reading roads: 50 %" in said
    assert "Marrow Vale County now finds drive times" in said
    row = TravelChoices.objects.get()
    assert row.district == cast.district
    assert (tmp_path / row.roads_key).is_dir()
    assert AuditEntry.objects.filter(action="roads_choose", actor=None).count() == 1


def test_the_command_says_what_is_wrong(cast: Cast, tmp_path: Path, settings: Settings) -> None:
    settings.ROADS_DIR = tmp_path
    with pytest.raises(
        CommandError, match=r"Name one of these with --district: Farther Fells, Marrow Vale County\."
    ):
        prepare_roads("county.osm.pbf")
    with pytest.raises(CommandError, match=r"county\.osm\.pbf can't be read"):
        prepare_roads("county.osm.pbf", "--district", cast.district.name)
    assert not TravelChoices.objects.exists()


def in_helsinki(*buildings: Building) -> None:
    """On streets of the extract, 100 meters apart."""
    for number, building in enumerate(buildings):
        building.latitude, building.longitude = 60.1695 + number / 1000, 24.9384
        building.save()


def test_an_extract_of_another_place_is_noticed_and_not_used(
    cast: Cast, helsinki: Path, tmp_path: Path, settings: Settings
) -> None:
    settings.ROADS_DIR = tmp_path
    with pytest.raises(
        CommandError, match=r"no road near any of the 2 buildings of Marrow Vale County: .*--anyway"
    ):
        prepare_roads(str(helsinki), "--district", cast.district.name)
    assert not TravelChoices.objects.exists()
    said = prepare_roads(str(helsinki), "--district", cast.district.name, "--anyway")
    assert "It reaches 0 of 2 buildings." in said
    assert TravelChoices.objects.get().roads_in_use


def test_an_extract_that_is_too_small_names_the_buildings_beyond_it(
    cast: Cast, helsinki: Path, tmp_path: Path, settings: Settings
) -> None:
    settings.ROADS_DIR = tmp_path
    in_helsinki(cast.north)
    said = prepare_roads(str(helsinki), "--district", cast.district.name)
    assert "It reaches 1 of 2 buildings." in said
    assert f"{cast.south.name} lies " in said
    assert "have a larger extract prepared" in said


def test_prepared_roads_are_turned_off_and_on_by_the_operator(
    cast: Cast, helsinki: Path, tmp_path: Path, settings: Settings
) -> None:
    settings.ROADS_DIR = tmp_path
    name = cast.district.name
    with pytest.raises(CommandError, match="No roads are prepared for Marrow Vale County"):
        prepare_roads("--off", "--district", name)
    in_helsinki(cast.north, cast.south)
    prepare_roads(str(helsinki), "--district", name)
    assert "no longer follow the roads of Helsinki.osm.pbf" in prepare_roads("--off", "--district", name)
    assert TravelChoices.objects.get().roads_in_use == ""
    prepare_roads("--on", "--district", name)
    assert TravelChoices.objects.get().roads_in_use != ""
    assert AuditEntry.objects.filter(action="roads_turn", actor=None).count() == 2
