"""Lunch of several teachers at one time in one school: wished for, led to by planning, said where it is had.

What a common lunch is, is what docs/together.md says of it; no outside source.
"""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from schedule.calendar.models import Happening
from schedule.day.selectors.sheet import day_sheet
from schedule.meetings.models import CommonMeeting
from schedule.meetings.selectors import lunch_wishes
from schedule.weeks.models import DayItem, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.others.lunches import lunches_wanted
from schedule.weeks.selectors.told.lunches import lunch_titles
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_line, make_week
from tests.schedule.runs import plan_now
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import page

LUNCH: dict[str, Any] = {"kind": "lunch", "start": "10:45", "end": "13:30", "weekdays": [0, 1]}


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers who can be planned, both at the north school only."""
    make_two_teachers(cast)
    return cast


def wished(cast: Cast, *teachers: Person, **values: object) -> CommonMeeting:
    """Lunch together on each day, said by the coordinator."""
    given = {"title": "Lunch together", "kind": "lunch", "start": at("10:45"), "end": at("13:30")}
    row = CommonMeeting.objects.create(district=cast.district, **(given | values))
    row.teachers.set(teachers or [cast.teacher, cast.mate])
    return row


def lunch_at(week: WeekPlan, day: dt.date, clock: str) -> None:
    """Put a week's lunch of a day somewhere else in its time."""
    start = at(clock)
    end = dt.time(start.hour + (start.minute + 30) // 60, (start.minute + 30) % 60)
    assert DayItem.objects.filter(week=week, date=day, kind="lunch").update(start=start, end=end) == 1


def lunches(week: WeekPlan) -> dict[dt.date, dt.time]:
    return dict(DayItem.objects.filter(week=week, kind="lunch").values_list("date", "start"))


def mates_week(cast: Cast, clock: str) -> WeekPlan:
    """The mate's week in force, with lunch at that time from Monday to Friday."""
    unit = next(one.id for one in load_week(cast.mate, MONDAY).problem.services)
    week = publish(make_week(cast, [(unit, date(n), "8:30") for n in (0, 1)], teacher=cast.mate))
    for day in lunches(week):
        lunch_at(week, day, clock)
    return week


def notes(week: WeekPlan) -> list[str]:
    return [one for one in week.figures["notes"] if "lunch" in one.lower()]


# ---- planning --------------------------------------------------------------------------------------------------


def test_lunch_is_led_to_the_colleagues_in_force(ground: Cast) -> None:
    """The mate is at the school on Monday and Tuesday; the first is wanted, and said wherever the lunch stands."""
    mates_week(ground, "12:10")
    wished(ground, weekdays=[0])
    week = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get()
    assert lunches(week)[MONDAY] == at("12:10")
    assert notes(week) == ["Monday: lunch with Mate Vey at 12:10 at North Hollow School."]
    publish(week)
    assert "Lunch with Mate Vey" in page(ground.teacher, "week", week=str(MONDAY))
    [line] = [one for one in day_sheet(ground.teacher, ground.teacher, MONDAY).lines if one.kind == "lunch"]
    assert (line.title, line.building_name) == ("Lunch with Mate Vey", "North Hollow School")
    theirs = day_sheet(ground.mate, ground.mate, MONDAY)
    assert [one.title for one in theirs.lines if one.kind == "lunch"] == ["Lunch with Teacher Vey"]


def test_what_is_not_wanted_is_not_looked_at(ground: Cast) -> None:
    """Not on its day, not before its first day, at another school, outside its hours, or asked and not answered."""
    mates_week(ground, "12:10")
    row = wished(ground, weekdays=[1])
    wished(ground, first_day=date(7))
    wished(ground, building=ground.south)
    wished(ground, end=at("12:00"))
    later = wished(ground, ground.mate)
    later.asked.add(ground.teacher)
    assert [(one.day, one.at) for one in lunches_wanted(ground.teacher, MONDAY).offers()] == [(str(date(1)), 730)]
    row.delete()
    assert lunches_wanted(ground.teacher, MONDAY).offers() == []


def test_a_lunch_outside_the_own_hours_is_said(ground: Cast) -> None:
    """The teacher's lunch is over by 13:30."""
    mates_week(ground, "13:10")
    wished(ground, weekdays=[0])
    week = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get()
    [told] = notes(week)
    assert told.startswith(
        "Monday: no lunch with Mate Vey, who has it at 1:10 at North Hollow School: that is outside"
    )
    publish(week)
    assert "Lunch with" not in page(ground.teacher, "week", week=str(MONDAY))


def test_who_has_no_week_yet_is_waited_for(ground: Cast) -> None:
    wished(ground)
    week = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get()
    assert notes(week) == ["Mate Vey has no week for then yet; lunch together waits for it."]


def test_owed_minutes_come_before_it(ground: Cast) -> None:
    """The only time of a student is the colleague's lunch: it stays, and the reason is said."""
    mates_week(ground, "11:50")
    wished(ground, weekdays=[0])
    line = make_line(ground, "L1", setting="one_to_one", largest_group=1)
    line.allowed_spaces.set([ground.gym])
    ground.gym.free_times.create(days="Mon", start=at("11:35"), end=at("12:20"))
    week = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get()
    assert lunches(week)[MONDAY] != at("11:50")
    assert not week.unplaced.exists()
    [told] = notes(week)
    assert told.startswith("Monday: no lunch with Mate Vey, who has it at 11:50 at North Hollow School: ")
    assert told.endswith((": 30 minutes more would have no place.", ": then you can't have yours there."))


def test_who_is_away_is_not_at_lunch(ground: Cast) -> None:
    mates_week(ground, "12:10")
    wished(ground, weekdays=[0])
    week = publish(plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get())
    assert lunch_titles(week) == {MONDAY: "Lunch with Mate Vey"}
    row = Happening.objects.create(
        district=ground.district,
        kind="away",
        teacher=ground.mate,
        first_date=MONDAY,
        last_date=MONDAY,
        said_by=ground.mate,
    )
    assert lunch_titles(week) == {}
    row.delete()
    assert lunch_titles(week) == {MONDAY: "Lunch with Mate Vey"}


# ---- saying it -------------------------------------------------------------------------------------------------


def test_a_teacher_asks_for_it_and_the_colleague_answers(ground: Cast) -> None:
    mine, theirs = Api(ground.teacher), Api(ground.mate)
    row = mine.post("common-meetings/", people=[ground.mate.pk], **LUNCH)
    assert (row["title"], row["asked"], row["worth_minutes"]) == ("Lunch together", [ground.mate.pk], 10)
    assert lunch_wishes(ground.teacher, MONDAY, date(6)) == []
    theirs.post(f"common-meetings/{row['id']}/answer/", comes=True, expect=204)
    [wish] = lunch_wishes(ground.teacher, MONDAY, date(6))
    assert wish.mates == (ground.mate,)
    assert not [day for day in load_week(ground.mate, MONDAY).problem.days if day.blocks]
    mine.patch(f"common-meetings/{row['id']}/", weekdays=[2])
    assert lunch_wishes(ground.teacher, MONDAY, date(6)) == []
    mine.post("common-meetings/undo/", expect=204)
    assert CommonMeeting.objects.get().weekdays == [0, 1]


def test_what_is_refused(ground: Cast) -> None:
    api, people = Api(ground.coordinator), [ground.teacher.pk, ground.mate.pk]
    for field, values in (
        ("weekdays", {"weekdays": [0, 0]}),
        ("weekdays", {"weekdays": [7]}),
        ("worth_minutes", {"worth_minutes": 0}),
        ("people", {"people": people[:1]}),
    ):
        answer = api.post("common-meetings/", expect=400, **{**LUNCH, "people": people, **values})
        assert [*answer["fields"]] == [field]
    assert not CommonMeeting.objects.exists()


def test_the_page_asks_for_what_a_lunch_needs(ground: Cast) -> None:
    text = page(ground.coordinator, "common_lunch_new")
    for told in ("Begins no sooner than", "Over by", "Any school", "Minutes more at the wheel"):
        assert told in text
    assert 'name="title"' not in text
    assert 'name="weekdays"' not in page(ground.coordinator, "common_meeting_new")
    sent = {
        "people": [ground.teacher.pk, ground.mate.pk],
        "weekdays": ["0", "2"],
        "start": "11:00",
        "end": "13:00",
        "worth_minutes": "15",
    }
    client = Client()
    client.force_login(ground.coordinator)
    assert client.post(reverse("common_lunch_new"), sent).status_code == 302
    row = CommonMeeting.objects.get()
    assert (row.is_lunch, row.weekdays, row.worth_minutes) == (True, [0, 2], 15)
    shown = page(ground.coordinator, "common_meetings")
    assert "Every Monday and Wednesday, where it can be had from 11:00 to 1:00" in shown
    assert 'name="weekdays"' in page(ground.coordinator, "common_meeting_change", row.pk)
