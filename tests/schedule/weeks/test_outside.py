"""Planned sessions that other hours leave outside are said before hours are saved. Common practice, no source."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from schedule.calendar.models import ContractDay, SpaceFreeTime
from schedule.weeks.models import PlannedSession, WeekPlan
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_week
from tests.schedule.weeks.planning.two_teachers import publish

BEFORE = dt.datetime.combine(MONDAY - dt.timedelta(days=3), dt.time(17), dt.UTC)


@pytest.fixture
def week(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> WeekPlan:
    """In force: S01 at 9:20 on Monday and Wednesday in North's gym. It is the Friday before."""
    monkeypatch.setattr(timezone, "now", lambda: BEFORE)
    make_ground(cast)
    own = f"line-{cast.line.pk}"
    made = publish(make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20")]))
    PlannedSession.objects.filter(week=made).update(space=cast.gym)
    return made


def hours(**other: str) -> dict[str, str]:
    """The form: 8:00 to 15:00 from Monday to Friday, but for some times."""
    same = {f"{end}_{day}": clock for day in range(5) for end, clock in (("start", "08:00"), ("end", "15:00"))}
    return {**same, **other}


def test_new_contract_hours_say_which_sessions_fall_outside(cast: Cast, week: WeekPlan) -> None:
    """From 10:00 on Monday, and no work on Wednesday; what is shown isn't saved yet."""
    client = signed_in(cast.teacher)
    address = reverse("contract_hours", args=[cast.teacher.pk])
    sent = hours(start_0="10:00", start_2="", end_2="")
    shown = client.post(address, sent)
    assert shown.status_code == 200
    text = shown.content.decode()
    assert "2 planned sessions fall outside." in text
    for day in ("Monday", "Wednesday"):
        assert f"{day} 9:20 to 9:50, One to one at {cast.north.name}" in text
    assert ContractDay.objects.filter(start=at("8:00")).count() == 5
    saved = client.post(address, {**sent, "effects_seen": shown.context["effects_seen"]})
    assert saved.status_code == 302
    assert ContractDay.objects.count() == 4
    # And back: what was outside is inside again, which is said, too.
    again = client.post(address, hours())
    assert "2 planned sessions are inside again." in again.content.decode()


def test_hours_that_leave_nothing_outside_are_saved_at_once(cast: Cast, week: WeekPlan) -> None:
    """What is over, and what another teacher gives, is nobody's to move."""
    address = reverse("contract_hours", args=[cast.teacher.pk])
    assert signed_in(cast.teacher).post(address, hours(start_0="09:20", end_2="09:50")).status_code == 302
    PlannedSession.objects.update(date=MONDAY - dt.timedelta(days=7))
    assert signed_in(cast.teacher).post(address, hours(start_0="12:00")).status_code == 302


def test_a_gym_that_opens_later_says_whose_sessions_fall_outside(cast: Cast, week: WeekPlan) -> None:
    """A space without any free time is free all day: the first one closes the rest, and deleting it opens it."""
    client = signed_in(cast.coordinator)
    address = reverse("free_time_new", args=[cast.gym.pk])
    sent = {"days": "Mon", "period": "", "start": "10:00", "end": "11:00"}
    shown = client.post(address, sent)
    text = shown.content.decode()
    assert "2 planned sessions fall outside." in text
    assert "One to one of Teacher Vey" in text
    assert not SpaceFreeTime.objects.exists()
    client.post(address, {**sent, "effects_seen": shown.context["effects_seen"]})
    row = SpaceFreeTime.objects.get()
    change = reverse("free_time_change", args=[row.pk])
    wider = client.post(change, {**sent, "start": "09:00"}).content.decode()
    assert "1 planned session is inside again." in wider
    deleting = client.get(reverse("free_time_delete", args=[row.pk])).content.decode()
    assert "2 planned sessions are inside again." in deleting
    assert SpaceFreeTime.objects.count() == 1


def test_a_gym_that_closes_for_good_says_it(cast: Cast, week: WeekPlan) -> None:
    """After Tuesday it is gone: Wednesday's session has no space."""
    values = {"name": cast.gym.name, "kind": "gym", "classes_that_fit": "1", "last_day": str(date(1))}
    shown = signed_in(cast.coordinator).post(reverse("space_change", args=[cast.gym.pk]), values)
    text = shown.content.decode()
    assert "1 planned session falls outside." in text
    assert "Wednesday 9:20 to 9:50" in text
    cast.gym.refresh_from_db()
    assert cast.gym.last_day is None


def test_the_api_says_the_same_before_it_saves(cast: Cast, week: WeekPlan) -> None:
    api = Api(cast.coordinator)
    day = ContractDay.objects.get(weekday=0)
    later: dict[str, Any] = {"start": "10:00"}
    told = api.post(f"contract-days/{day.pk}/effects/", expect=200, **later)["effects"]
    assert told[0] == "1 planned session falls outside."
    assert api.post(f"contract-days/{day.pk}/delete/effects/", expect=200)["effects"] == told
    free: dict[str, Any] = {"space": cast.gym.pk, "days": "Tue", "start": "10:00", "end": "11:00"}
    assert api.post("space-free-times/effects/", expect=200, **free)["effects"][0].startswith("2 planned sessions")
    made = api.post("space-free-times/", **free)
    back = api.post(f"space-free-times/{made['id']}/delete/effects/", expect=200)["effects"]
    assert back[0] == "2 planned sessions are inside again."
    gone = api.post(f"spaces/{cast.gym.pk}/effects/", expect=200, first_day=str(date(7)))["effects"]
    assert gone == [], "nothing falls outside that is outside already"
