"""The API of bells, days, the calendar and the teacher's rules."""

from typing import Any

import pytest

from accounts.models import District
from schedule.calendar.models import BellPeriod, BellSchedule, CalendarEntry, TeacherRules
from tests.api import Api
from tests.conftest import Cast

pytestmark = pytest.mark.django_db

PERIODS = [
    {"name": "P1", "start": "08:30", "end": "09:10"},
    {"name": "Lunch", "kind": "lunch", "start": "11:30", "end": "12:00", "grades": "K-2"},
]


def test_a_bell_schedule_comes_with_its_periods(cast: Cast) -> None:
    """All at once; those sent later replace those there were, and without any they stay."""
    api = Api(cast.teacher)
    added = api.post("bell-schedules/", building=cast.north.pk, name="Regular", periods=PERIODS)
    assert [(row["name"], row["start"]) for row in added["periods"]] == [("P1", "08:30:00"), ("Lunch", "11:30:00")]
    api.patch(f"bell-schedules/{added['id']}/", passing_minutes=3)
    assert BellPeriod.objects.count() == 2
    changed = api.patch(f"bell-schedules/{added['id']}/", periods=PERIODS[:1])
    assert [row["name"] for row in changed["periods"]] == ["P1"]
    api.delete(f"bell-schedules/{added['id']}/")
    assert not BellPeriod.objects.exists()


def test_periods_that_overlap_or_end_too_early_are_named(cast: Cast) -> None:
    """By their place in the list; nothing is saved."""
    api = Api(cast.teacher)
    overlapping = [PERIODS[0], {"name": "P2", "start": "09:00", "end": "09:40"}]
    error = api.post("bell-schedules/", expect=400, building=cast.north.pk, name="Regular", periods=overlapping)
    assert any(name.startswith("periods") for name in error["fields"])
    error = api.post(
        "bell-schedules/", expect=400, building=cast.north.pk, name="Regular", periods=[{"name": "P1"}]
    )
    assert set(error["fields"]) == {"periods.0.start", "periods.0.end"}
    assert not BellSchedule.objects.exists()


def test_rotations_and_bell_rules(cast: Cast) -> None:
    """A cycle of six days with a known day, and other bells on its third."""
    api = Api(cast.teacher)
    rotation = api.post("rotations/", building=cast.north.pk, kind="cycle", length=6, anchor_date="2026-09-08")
    assert rotation["practice"] == "next_unused"
    bells = api.post("bell-schedules/", building=cast.north.pk, name="Assembly", kind="assembly", periods=PERIODS)
    rule = api.post("bell-rules/", building=cast.north.pk, day="Day 3", schedule=bells["id"])
    assert api.get("bell-rules/", building=cast.north.pk)["count"] == 1
    api.delete(f"bell-rules/{rule['id']}/")
    plain = api.patch(f"rotations/{rotation['id']}/", kind="weekday")
    assert (plain["length"], plain["anchor_date"]) == (None, None)


def test_the_calendar(cast: Cast) -> None:
    """A year, a marking period inside it, a closure of one day, and a word of the published calendar."""
    api = Api(cast.coordinator)
    year = api.post("school-years/", name="2026-27", first_day="2026-09-08", last_day="2027-06-18")
    outside = {"school_year": year["id"], "name": "MP1", "first_day": "2026-09-01", "last_day": "2026-11-06"}
    assert "message" in api.post("marking-periods/", expect=400, **outside)
    period = api.post("marking-periods/", **{**outside, "first_day": "2026-09-08"})
    assert api.get("marking-periods/", school_year=year["id"])["count"] == 1
    entry = api.post("calendar-entries/", first_date="2026-11-26", kind="closed", title="Harvest day")
    assert entry["last_date"] == "2026-11-26"
    word = api.post("word-rules/", words="half day", kind="early_dismissal")
    for path in (
        f"marking-periods/{period['id']}/",
        f"calendar-entries/{entry['id']}/",
        f"word-rules/{word['id']}/",
    ):
        api.delete(path)
    api.patch(f"school-years/{year['id']}/", expect=400, last_day="2026-09-01")


def test_rotations_of_a_building_and_of_some_of_its_grades(cast: Cast) -> None:
    """Each is a row; one whose label is another's is refused at its field."""
    api = Api(cast.coordinator)
    own: dict[str, Any] = {"building": cast.north.pk, "kind": "cycle", "length": 6, "anchor_date": "2026-09-08"}
    api.post("rotations/", **own)
    again = api.post("rotations/", expect=400, **own)
    assert "which grades follow" in str(again)
    middle = {**own, "name": "Middle grades", "grades": "6-8"}
    assert list(api.post("rotations/", expect=400, **middle)["fields"]) == ["labels"]
    row = api.post("rotations/", **middle, labels="MS1,MS2,MS3,MS4,MS5,MS6")
    assert (row["name"], row["grades"]) == ("Middle grades", "6-8")
    assert api.get("rotations/", building=cast.north.pk)["count"] == 2
    api.delete(f"rotations/{row['id']}/")
    assert api.get("rotations/")["count"] == 1


def test_another_districts_calendar_is_not_there(cast: Cast) -> None:
    """Neither to read nor to change."""
    other = District.objects.get(pk=cast.other_district.pk)
    entry = CalendarEntry.objects.create(district=other, first_date="2026-11-26", last_date="2026-11-26")
    api = Api(cast.coordinator)
    assert api.get("calendar-entries/")["count"] == 0
    api.patch(f"calendar-entries/{entry.pk}/", expect=404, title="Mine")
    api.delete(f"calendar-entries/{entry.pk}/", expect=404)


def test_a_teachers_rules_hours_and_meetings(cast: Cast) -> None:
    """Own where nobody is named; a mate sees none of it."""
    api = Api(cast.teacher)
    rules = api.post("teacher-rules/", start_place=cast.north.pk)
    assert (rules["teacher"], rules["lunch_minutes"]) == (cast.teacher.pk, 30)
    error = api.patch(f"teacher-rules/{rules['id']}/", expect=400, lunch_minutes=120, lunch_latest_end="11:00")
    assert list(error["fields"]) == ["lunch_latest_end"]
    api.post("teacher-rules/", expect=400)
    assert TeacherRules.objects.count() == 1
    day = api.post("contract-days/", weekday=0, start="08:00", end="15:30")
    meeting = api.post("meetings/", title="Team", weekday=2, start="14:30", end="15:15")
    monthly = api.patch(f"meetings/{meeting['id']}/", month_place=-1)
    assert monthly["month_place"] == -1
    error = api.patch(f"meetings/{meeting['id']}/", expect=400, weekday=None, date="2026-10-06")
    assert "weekday, too" in str(error)
    mate = Api(cast.mate)
    for path in (f"contract-days/{day['id']}/", f"meetings/{meeting['id']}/"):
        mate.get(path, expect=404)
        mate.delete(path, expect=404)
        api.delete(path)


def test_when_spaces_are_free_and_classes_meet(cast: Cast) -> None:
    """By clock here; both are filtered by what they belong to."""
    api = Api(cast.teacher)
    slot: dict[str, Any] = {"days": "Mon,Wed", "start": "09:00", "end": "09:40"}
    free = api.post("space-free-times/", space=cast.gym.pk, **slot)
    meeting = api.post("class-meetings/", school_class=cast.room4.pk, space=cast.gym.pk, **slot)
    assert api.get("space-free-times/", building=cast.north.pk)["count"] == 1
    assert api.get("class-meetings/", school_class=cast.room4.pk)["count"] == 1
    api.post("space-free-times/", expect=400, space=cast.gym.pk, days="Mon")
    api.delete(f"space-free-times/{free['id']}/")
    api.delete(f"class-meetings/{meeting['id']}/")


def test_a_students_name_in_a_title_is_said_and_saved(cast: Cast) -> None:
    """As the pages ask before they save; an office, which sees no student, is told no name either."""
    name = cast.student.last_name.split()[0]
    api = Api(cast.teacher)
    entry = api.post("calendar-entries/", title=f"Visit of {name}", first_date="2026-10-05", kind="closed")
    assert [name in one for one in entry["warnings"]] == [True]
    meeting: dict[str, Any] = {"weekday": 2, "start": "15:00", "end": "15:45"}
    assert name in api.post("meetings/", title=f"About {name}", **meeting)["warnings"][0]
    assert api.post("meetings/", title="The whole team", **{**meeting, "weekday": 3})["warnings"] == []
    assert [bool(one["warnings"]) for one in api.get("meetings/")["results"]] == [True, False]
    assert [one["warnings"] for one in Api(cast.office).get("calendar-entries/")["results"]] == [[]]
