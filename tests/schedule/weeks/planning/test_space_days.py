"""A gym that opens in the middle of a week, and one that is gone: when it is planned in, and what is said else."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from schedule.calendar.models import SpaceFreeTime
from schedule.imports.services.tables import import_undo
from schedule.planner.asking.favor_kinds import favors_of
from schedule.planner.problem import Barred
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import load_week
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, starts_of
from tests.schedule.imports.district import commit
from travel.places.models import Space
from travel.places.services import space_save

WEDNESDAY, THURSDAY = date(2), date(3)


@pytest.fixture
def gym(cast: Cast) -> Space:
    """The only space of the north, from Wednesday through Thursday."""
    make_ground(cast)
    return space_save(
        actor=cast.coordinator,
        row=Space.objects.get(building=cast.north),
        values={"first_day": WEDNESDAY, "last_day": THURSDAY},
    )


def barred_of(week: WeekInput, key: str) -> tuple[Barred, ...]:
    """The starts of a service that one rule bars."""
    return next(one for one in week.problem.services if one.id == key).barred


def test_nothing_is_planned_in_it_before_its_first_day_or_after_its_last(cast: Cast, gym: Space) -> None:
    week = load_week(cast.teacher, MONDAY)
    key = f"line-{cast.line.pk}"
    assert {day for day, _ in starts_of(week, key)} == {WEDNESDAY.isoformat(), THURSDAY.isoformat()}
    said = {one.day: one.text for one in barred_of(week, key)}
    assert said[MONDAY.isoformat()] == f"{gym.name} isn't open before September 16, 2026"
    assert said[date(4).isoformat()] == f"{gym.name} is gone after September 17, 2026"


def test_nobody_is_asked_for_a_gym_that_is_not_there(cast: Cast, gym: Space) -> None:
    """On Wednesday it is free in one period only, so that the office could be asked for the others."""
    SpaceFreeTime.objects.create(space=gym, days="Wed", start=at("8:30"), end=at("9:15"))
    favors = favors_of(load_week(cast.teacher, MONDAY).problem)
    assert {one.day for one in favors if gym.name in one.what} == {WEDNESDAY.isoformat(), THURSDAY.isoformat()}


def test_another_space_is_used_until_it_opens(cast: Cast, gym: Space) -> None:
    """The room is free on Mondays and Wednesdays; where the room is taken, the words are about the room."""
    room = Space.objects.create(building=cast.north, name="Room", kind="multipurpose")
    SpaceFreeTime.objects.create(space=room, days="Mon,Wed", start=at("8:30"), end=at("14:00"))
    week, key = load_week(cast.teacher, MONDAY), f"line-{cast.line.pk}"
    starts = week.problem.unit(key).starts
    assert {one.space for one in starts if one.day == MONDAY.isoformat()} == {"Room"}
    assert {one.space for one in starts if one.day == WEDNESDAY.isoformat()} == {"Room", gym.name}
    tuesday = {one.text for one in barred_of(week, key) if one.day == date(1).isoformat()}
    assert tuesday == {"Room is free at no time on this day"}


def test_the_page_and_the_api_take_a_first_day(cast: Cast, gym: Space) -> None:
    client = Client()
    client.force_login(cast.coordinator)
    values = {"name": gym.name, "kind": gym.kind, "classes_that_fit": 1}
    client.post(reverse("space_change", args=[gym.pk]), {**values, "first_day": "2027-03-01", "last_day": ""})
    shown = client.get(reverse("building_detail", args=[cast.north.pk])).content.decode()
    assert "from March 1, 2027 on" in shown
    assert "until" not in shown.split("Gym, 1 class")[1].split("</p>")[0]
    api = Api(cast.coordinator)
    assert api.patch(f"spaces/{gym.pk}/", first_day="2027-04-05")["first_day"] == "2027-04-05"
    refused = api.patch(f"spaces/{gym.pk}/", expect=400, last_day="2027-04-04")
    assert "The last day is before the first." in str(refused)


def test_a_last_day_before_the_first_is_refused(cast: Cast, gym: Space) -> None:
    with pytest.raises(ValidationError, match="The last day is before the first"):
        space_save(actor=cast.coordinator, row=gym, values={"last_day": WEDNESDAY - dt.timedelta(days=1)})


def test_the_table_of_spaces_has_both_days(cast: Cast, gym: Space) -> None:
    """Read in, changed, taken back; what was sent out says the same."""
    answer = Client()
    answer.force_login(cast.coordinator)
    sent = bytes(answer.get("/api/1/import-tables/spaces/rows/").content).decode("utf-8-sig")
    assert "2026-09-16,2026-09-17" in sent
    text = "Building code,Space name,First day,Last day\nNORTH,Gym,2027-03-01,\n"
    batch = commit(cast.coordinator, "spaces", text)
    gym.refresh_from_db()
    assert (gym.first_day, gym.last_day) == (dt.date(2027, 3, 1), None)
    import_undo(actor=cast.coordinator, batch=batch)
    gym.refresh_from_db()
    assert (gym.first_day, gym.last_day) == (WEDNESDAY, THURSDAY)
