"""Rotations that begin, or become another one, on a first day: earlier days keep what they are called."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.guards import ends_foreseen
from caseload.months.models import LogMonth
from schedule.calendar.models import DayRotation, SchoolYear
from schedule.calendar.selectors.rotations import labels_at
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars
from schedule.calendar.services.records import rotation_change, rotation_delete, rotation_save, rotation_take_back
from schedule.imports.files.export import export_rows
from schedule.imports.tables.schools import ROTATIONS
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.imports.district import commit
from tests.schedule.log_builders import publish_session

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)
WEEK = 7 * DAY


def monday() -> dt.date:
    """The Monday after today."""
    today = date_there()
    return today + dt.timedelta(days=7 - today.weekday())


@pytest.fixture
def own(cast: Cast) -> DayRotation:
    """The north school counts three days in a year that is under way; two weeks ago was Day 1."""
    today = date_there()
    SchoolYear.objects.create(
        district=cast.district, name="This year", first_day=today - 90 * DAY, last_day=today + 90 * DAY
    )
    values = {"kind": "cycle", "length": 3, "practice": "fixed_to_date", "anchor_date": monday() - 3 * WEEK}
    return rotation_save(actor=cast.teacher, row=DayRotation(building=cast.north), values=values)


def letters(first: dt.date | None, **more: Any) -> dict[str, Any]:
    """A and B weeks from a day on; that week is A."""
    anchor = first or monday()
    return {"kind": "ab_weeks", "practice": "fixed_to_date", "first_day": first, "anchor_date": anchor, **more}


def calendar_of(cast: Cast) -> BuildingCalendar:
    """The north school's year."""
    return load_calendars(cast.district, [cast.north], SchoolYear.objects.get())[cast.north.pk]


def labels(cast: Cast, days: list[dt.date], grade: str = "") -> list[str]:
    """What the dates are called for a grade."""
    calendar = calendar_of(cast)
    return [calendar.facts(day).for_grades([grade] if grade else []).cycle_label for day in days]


def test_earlier_days_keep_what_they_are_called(cast: Cast, own: DayRotation) -> None:
    """Fifteen school days of a cycle of three from Day 1 on end in Day 3; then weeks count."""
    before = [monday() - 3 * WEEK + n * DAY for n in range(3)] + [monday() - 3 * DAY]
    rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    assert labels(cast, before) == ["Day 1", "Day 2", "Day 3", "Day 3"]
    assert labels(cast, [monday(), monday() + WEEK]) == ["A", "B"]
    assert labels_at(cast.north) == ("Day 1", "Day 2", "Day 3", "A", "B")


def test_turns_of_before_stay_and_none_runs_over(cast: Cast, own: DayRotation) -> None:
    """A service that is counted by turns owes for earlier ones what it owed."""
    was = [turn for turn in calendar_of(cast).cycles("3") if turn[-1] < monday()]
    rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    now = calendar_of(cast).cycles("3")
    assert [turn for turn in now if turn[0] < monday()] == was
    assert next(turn[0] for turn in now if turn[-1] >= monday()) == monday()


def test_a_second_rotation_begins_in_mid_year(cast: Cast, own: DayRotation) -> None:
    """Until then its grades follow the school's own; a closed month before doesn't stand in the way."""
    month = (date_there().replace(day=1) - DAY).replace(day=1)
    closed = LogMonth.Status.CLOSED
    LogMonth.objects.create(district=cast.district, teacher=cast.teacher, month=month, status=closed)
    was = [turn for turn in calendar_of(cast).cycles("7") if turn[-1] < monday()]
    middle = {"name": "Middle grades", "grades": "6-8"}
    with pytest.raises(ApplicationError) as refused:
        rotation_save(actor=cast.teacher, row=DayRotation(building=cast.north), values=letters(None, **middle))
    assert refused.value.code == "month_closed"
    rotation_save(actor=cast.teacher, row=DayRotation(building=cast.north), values=letters(monday(), **middle))
    days = [monday() - 3 * DAY, monday()]
    assert labels(cast, days, "7") == ["Day 3", "A"]
    assert labels(cast, days, "3") == ["Day 3", "Day 1"]
    cycles = calendar_of(cast).cycles("7")
    assert [turn for turn in cycles if turn[0] < monday()] == was
    assert cycles[len(was)][0] == monday()


def test_it_is_shown_and_taken_back(cast: Cast, own: DayRotation) -> None:
    """Days and planned sessions; then the row is gone again, and what was deleted is there again."""
    publish_session(monday(), [cast.line], "9:20", "9:50")
    told = ends_foreseen(
        cast.teacher, own, lambda: rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    )
    assert "have another day of the rotation" in told[0]
    assert "1 planned session on these days, in 1 week" in " ".join(told)
    assert DayRotation.objects.count() == 1
    made = rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    rotation_take_back(actor=cast.teacher, building=cast.north)
    assert list(DayRotation.objects.all()) == [own]
    with pytest.raises(ApplicationError) as refused:
        rotation_take_back(actor=cast.teacher, building=cast.north)
    assert refused.value.code == "nothing_to_undo"
    made = rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    rotation_delete(actor=cast.teacher, row=made)
    assert labels(cast, [monday()]) == ["Day 1"]
    rotation_take_back(actor=cast.teacher, building=cast.north)
    assert labels(cast, [monday()]) == ["A"]


def test_one_rotation_begins_once_on_a_day(cast: Cast, own: DayRotation) -> None:
    rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    with pytest.raises(ValidationError, match="from this day on already"):
        rotation_change(actor=cast.teacher, row=own, values=letters(monday()))


def test_the_page_begins_with_today_and_asks_first(cast: Cast, own: DayRotation) -> None:
    """Another row from that day on; the one that holds now is put right by its own address."""
    client = Client()
    client.force_login(cast.teacher)
    address = reverse("rotation_change", args=[cast.north.pk])
    assert f'value="{date_there().isoformat()}"' in client.get(address).content.decode()
    form = {name: str(value) for name, value in letters(monday()).items()}
    asked = client.post(address, form)
    assert "have another day of the rotation" in asked.content.decode()
    client.post(address, form | {"effects_seen": asked.context["effects_seen"]})
    assert DayRotation.objects.count() == 2
    page = client.get(reverse("building_detail", args=[cast.north.pk])).content.decode()
    assert "Take it back" in page
    correcting = client.get(reverse("grade_rotation_change", args=[own.pk]) + "?correct=1")
    assert correcting.status_code == 200
    client.post(reverse("rotation_take_back", args=[cast.north.pk]))
    assert DayRotation.objects.count() == 1


def test_the_api_does_the_same(cast: Cast, own: DayRotation) -> None:
    """A row of its own; what it changes can be asked before."""
    api = Api(cast.teacher)
    asked: dict[str, Any] = {"building": cast.north.pk, "kind": "ab_weeks"}
    asked |= {"first_day": monday().isoformat(), "anchor_date": monday().isoformat()}
    assert "another day of the rotation" in api.post("rotations/effects/", expect=200, **asked)["effects"][0]
    assert api.post("rotations/", **asked)["first_day"] == monday().isoformat()
    assert labels(cast, [monday()]) == ["A"]
    api.post(f"buildings/{cast.north.pk}/rotations/undo/", expect=204)
    assert DayRotation.objects.count() == 1


def test_a_first_day_is_read_and_written_as_a_table(cast: Cast, own: DayRotation) -> None:
    """The own export read back changes nothing; a row with another first day is another row."""
    rotation_change(actor=cast.teacher, row=own, values=letters(monday()))
    rows = [list(ROTATIONS.headers), *(list(row) for row in export_rows(cast.teacher, ROTATIONS))]
    same = commit(cast.teacher, "rotations", "\n".join(",".join(row) for row in rows) + "\n")
    assert same.content["tallies"]["rotations"]["same"] == 2
    place = rows[0].index("Counts from")
    rows[2][place] = (monday() + WEEK).isoformat()
    later = commit(cast.teacher, "rotations", "\n".join(",".join(row) for row in [rows[0], rows[2]]) + "\n")
    assert later.content["tallies"]["rotations"]["new"] == 1
    assert DayRotation.objects.count() == 3
