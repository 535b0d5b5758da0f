"""One meeting of several teachers: said once, planned in each week, changed and taken back for all.

What a common meeting is, is what docs/together.md says of it; no outside source.
"""

import datetime as dt
from typing import Any

import pytest
from django.test import Client

from accounts.models import Person
from schedule.calendar.models import Meeting
from schedule.day.selectors.sheet import day_sheet
from schedule.meetings.models import CommonMeeting
from schedule.weeks.models import DayItem, WeekPlan
from schedule.weeks.planning.load import load_week
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.builders import MONDAY, at, date, make_entry, make_week
from tests.schedule.runs import plan_now
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish

TEAM: dict[str, Any] = {"title": "Team", "weekday": 1, "start": "9:00", "end": "10:00"}


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers who can be planned."""
    make_two_teachers(cast)
    return cast


def common(cast: Cast, *teachers: Person, **values: object) -> CommonMeeting:
    """A meeting on Tuesdays from 9:00 to 10:00, called by the coordinator."""
    given = {"title": "Team", "weekday": 1, "start": at("9:00"), "end": at("10:00"), "called_by": cast.coordinator}
    row = CommonMeeting.objects.create(district=cast.district, **(given | values))
    row.teachers.set(teachers or [cast.teacher, cast.mate])
    return row


def held(week: WeekPlan) -> list[tuple[dt.date, str, int | None]]:
    """The meetings of a planned week, and where."""
    rows = DayItem.objects.filter(week=week, kind=DayItem.Kind.MEETING)
    return [(one.date, one.title, one.building_id) for one in rows]


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


# ---- planning --------------------------------------------------------------------------------------------------


def test_it_stands_in_each_week_with_the_drive_to_its_place(ground: Cast) -> None:
    common(ground, building=ground.south)
    for teacher in (ground.teacher, ground.mate):
        week = plan_now(teacher, MONDAY, date(4), seconds=1).weeks.get()
        assert held(week) == [(date(1), "Team", ground.south.pk)]
        reached = DayItem.objects.filter(week=week, date=date(1), kind=DayItem.Kind.DRIVE, building=ground.south)
        taught = week.sessions.filter(date=date(1))
        assert not taught.filter(start__lt=at("10:00"), end__gt=at("9:00")).exists()
        assert reached.exists() == taught.filter(building=ground.north, end__lte=at("9:00")).exists()


def test_it_holds_from_its_first_day_to_its_last(ground: Cast) -> None:
    row = common(ground, first_day=date(8), last_day=date(8))
    assert not [block for day in load_week(ground.teacher, MONDAY).problem.days for block in day.blocks]
    later = load_week(ground.teacher, date(7)).problem
    assert [(day.id, block.label) for day in later.days for block in day.blocks] == [(date(8).isoformat(), "Team")]
    assert not [block for day in load_week(ground.teacher, date(14)).problem.days for block in day.blocks]
    row.teachers.remove(ground.teacher)
    assert not [block for day in load_week(ground.teacher, date(7)).problem.days for block in day.blocks]


def test_a_day_without_school_leaves_it_out(ground: Cast) -> None:
    common(ground)
    make_entry(ground, date(1), "closed")
    week = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get()
    assert held(week) == []


# ---- saying it -------------------------------------------------------------------------------------------------


def test_a_coordinator_says_it_for_several_and_changes_it_for_all(ground: Cast) -> None:
    api = Api(ground.coordinator)
    row = api.post("common-meetings/", people=[ground.teacher.pk, ground.mate.pk], **TEAM)
    assert (set(row["people"]), row["asked"]) == ({ground.mate.pk, ground.teacher.pk}, [])
    api.patch(f"common-meetings/{row['id']}/", weekday=2)
    for teacher in (ground.teacher, ground.mate):
        days = load_week(teacher, MONDAY).problem.days
        assert [day.id for day in days if day.blocks] == [date(2).isoformat()]
    Api(ground.teacher).patch(f"common-meetings/{row['id']}/", weekday=3, expect=404)
    api.delete(f"common-meetings/{row['id']}/")
    assert not [day for day in load_week(ground.mate, MONDAY).problem.days if day.blocks]
    api.post("common-meetings/undo/", expect=204)
    again = CommonMeeting.objects.get()
    assert {*again.teachers.all()} == {ground.teacher, ground.mate}
    assert (again.weekday, again.start) == (2, at("9:00"))


def test_a_teacher_asks_and_the_colleague_answers(ground: Cast) -> None:
    mine, theirs = Api(ground.teacher), Api(ground.mate)
    row = mine.post("common-meetings/", people=[ground.mate.pk], **TEAM)
    assert row["asked"] == [ground.mate.pk]
    assert not [day for day in load_week(ground.mate, MONDAY).problem.days if day.blocks]
    assert [day for day in load_week(ground.teacher, MONDAY).problem.days if day.blocks]
    assert "asks you" in signed_in(ground.mate).get("/day/").text
    assert "asks you" not in signed_in(ground.teacher).get("/day/").text
    theirs.post(f"common-meetings/{row['id']}/answer/", comes=True, expect=204)
    assert [day for day in load_week(ground.mate, MONDAY).problem.days if day.blocks]
    # The caller changes it for all, and nobody else does.
    theirs.patch(f"common-meetings/{row['id']}/", weekday=3, expect=404)
    mine.patch(f"common-meetings/{row['id']}/", title="Team of two")
    assert CommonMeeting.objects.get().teachers.contains(ground.mate)
    theirs.post(f"common-meetings/{row['id']}/answer/", comes=False, expect=204)
    assert not CommonMeeting.objects.get().teachers.contains(ground.mate)
    # What a colleague answered isn't the caller's to take back.
    mine.post("common-meetings/undo/", expect=409)


@pytest.mark.parametrize(
    "change",
    [
        {"weekday": 3}, {"start": "8:30"}, {"month_place": 1}, {"last_day": "2099-03-03"},
        {"weekday": None, "date": "2099-03-03"},
    ],
)  # fmt: skip
def test_who_said_yes_is_asked_again_about_another_time(ground: Cast, change: dict[str, Any]) -> None:
    """Today says so; the new time stands in no week of theirs before they answer, and taken back the yes holds."""
    row = common(ground, called_by=ground.teacher)
    answer = Api(ground.teacher).patch(f"common-meetings/{row.pk}/", **change)
    assert answer["asked"] == [ground.mate.pk]
    assert set(answer["people"]) == {ground.teacher.pk, ground.mate.pk}
    assert "asks you" in signed_in(ground.mate).get("/day/").text
    assert not [day for day in load_week(ground.mate, MONDAY).problem.days if day.blocks]
    Api(ground.teacher).post("common-meetings/undo/", expect=204)
    assert {*row.teachers.all()} == {ground.teacher, ground.mate}
    assert not row.asked.exists()
    Api(ground.teacher).patch(f"common-meetings/{row.pk}/", building=ground.south.pk)
    Api(ground.mate).post(f"common-meetings/{row.pk}/answer/", comes=True, expect=204)
    assert row.teachers.contains(ground.mate)


def test_a_coordinator_who_moves_it_asks_nobody(ground: Cast) -> None:
    for caller in (ground.teacher, ground.coordinator):
        row = common(ground, called_by=caller)
        assert Api(ground.coordinator).patch(f"common-meetings/{row.pk}/", weekday=3)["asked"] == []
        row.delete()


def test_a_coordinator_answers_for_nobody_who_is_asked(ground: Cast) -> None:
    row = common(ground, called_by=ground.teacher)
    row.teachers.remove(ground.mate)
    row.asked.add(ground.mate)
    told = Api(ground.coordinator).patch(f"common-meetings/{row.pk}/", title="Team of two")
    assert (told["asked"], told["title"]) == ([ground.mate.pk], "Team of two")
    assert not row.teachers.contains(ground.mate)


def test_the_form_says_who_is_asked_again(ground: Cast) -> None:
    """Before it is saved, and not where only the title differs."""
    row = common(ground, called_by=ground.teacher)
    client, address = signed_in(ground.teacher), f"/common-meetings/{row.pk}/change/"
    sent = TEAM | {"people": [ground.mate.pk]}
    asked = client.post(address, sent | {"weekday": 3})
    assert "Mate Vey said yes and is asked again." in asked.text
    assert not row.asked.exists()
    client.post(address, sent | {"title": "Team of two"})
    assert CommonMeeting.objects.get().title == "Team of two"
    assert not row.asked.exists()
    client.post(address, sent | {"weekday": 3, "effects_seen": asked.context["effects_seen"]})
    assert row.asked.contains(ground.mate)
    assert "You are asked" in signed_in(ground.mate).get("/common-meetings/").text


@pytest.mark.parametrize("is_common", [True, False])
def test_a_closed_place_is_said_of_it_as_of_an_own_meeting(ground: Cast, is_common: bool) -> None:
    """The day is planned, since another school is open: both are kept, and the day says why it can't be there."""
    if is_common:
        common(ground, building=ground.south)
    else:
        Meeting.objects.create(
            district=ground.district, teacher=ground.teacher, title="Team", weekday=1, start=at("9:00"),
            end=at("10:00"), building=ground.south,
        )  # fmt: skip
    publish(plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get())
    make_entry(ground, date(1), "closed", building=ground.south)
    lines = day_sheet(ground.teacher, ground.teacher, date(1)).lines
    [team] = [one for one in lines if one.kind == "meeting"]
    assert (team.title, team.off, team.warning) == ("Team", "", "South Hollow School is closed")
    again = plan_now(ground.teacher, MONDAY, date(4), seconds=1).weeks.get(status="draft")
    assert held(again) == [(date(1), "Team", ground.south.pk)]


def test_who_was_put_in_by_a_coordinator_does_not_leave(ground: Cast) -> None:
    row = common(ground)
    Api(ground.mate).post(f"common-meetings/{row.pk}/answer/", comes=False, expect=404)


def test_others_do_not_see_it(ground: Cast) -> None:
    row = common(ground, ground.teacher, called_by=ground.teacher)
    assert Api(ground.mate).get("common-meetings/")["count"] == 0
    assert Api(ground.stranger).get("common-meetings/")["count"] == 0
    assert signed_in(ground.mate).get(f"/common-meetings/{row.pk}/change/").status_code == 404


def test_what_cannot_be_is_refused_by_field(ground: Cast) -> None:
    api, two = Api(ground.coordinator), [ground.teacher.pk, ground.mate.pk]

    def refused(**values: Any) -> dict[str, Any]:
        found: dict[str, Any] = api.post("common-meetings/", expect=400, **(TEAM | {"people": two} | values))[
            "fields"
        ]
        return found

    assert "at least two" in str(refused(people=[ground.teacher.pk])["people"])
    assert refused(people=[ground.teacher.pk, ground.office.pk])["people"]
    assert "before it starts" in str(refused(end="8:00"))
    assert "last day is before" in str(refused(first_day="2026-10-05", last_day="2026-10-04"))
    assert "one of the two" in str(refused(date="2026-10-05"))
    Meeting.objects.create(
        district=ground.district, teacher=ground.mate, title="Own", weekday=1, start=at("9:30"), end=at("11:00")
    )
    assert "Mate Vey has “Own” then" in str(refused()["start"])
    assert not CommonMeeting.objects.exists()


def test_nobody_says_yes_to_two_at_one_time(ground: Cast) -> None:
    row = common(ground, ground.teacher, called_by=ground.teacher)
    row.asked.add(ground.mate)
    Meeting.objects.create(
        district=ground.district, teacher=ground.mate, title="Own", weekday=1, start=at("9:30"), end=at("11:00")
    )
    told = Api(ground.mate).post(f"common-meetings/{row.pk}/answer/", comes=True, expect=400)
    assert "has “Own” then" in str(told)


# ---- pages -----------------------------------------------------------------------------------------------------


def test_the_form_shows_what_it_meets_before_it_is_saved(ground: Cast) -> None:
    """A session of a week in force at that time, and a student's name in the title."""
    today = date_there()
    monday = today - dt.timedelta(days=today.weekday()) + dt.timedelta(days=7)
    assert monday > MONDAY, "the year of the ground has begun"
    publish(make_week(ground, [(f"line-{ground.line.pk}", monday + dt.timedelta(days=1), "9:20")], monday=monday))
    client = signed_in(ground.coordinator)
    sent = TEAM | {"people": [ground.teacher.pk, ground.mate.pk]}
    asked = client.post("/common-meetings/new/", sent)
    assert "Teacher Vey: 1 session is at that time in weeks in force" in asked.text
    assert not CommonMeeting.objects.exists()
    shown = client.post(
        "/common-meetings/new/", sent | {"effects_seen": asked.context["effects_seen"]}, follow=True
    ).text
    assert "Mate Vey and Teacher Vey" in shown
    assert "Weeks in force without it, until they are planned again: Teacher Vey (" in shown
    row = CommonMeeting.objects.get()
    form = client.get(f"/common-meetings/{row.pk}/change/").text
    assert form.count("checked") == 2
    assert "Delete" in client.get(f"/common-meetings/{row.pk}/delete/").text
    assert "Every Tuesday" in signed_in(ground.teacher).get("/common-meetings/").text


def test_answers_are_given_on_the_page(ground: Cast) -> None:
    row = common(ground, ground.teacher, called_by=ground.teacher)
    row.asked.add(ground.mate)
    client = signed_in(ground.mate)
    assert "You are asked" in client.get("/common-meetings/").text
    shown = client.post(f"/common-meetings/{row.pk}/answer/", {"comes": ""}, follow=True).text
    assert "It is in your days" in shown
    assert row.teachers.contains(ground.mate)
    client.post(f"/common-meetings/{row.pk}/answer/", follow=True)
    assert not row.teachers.contains(ground.mate)
    assert not row.asked.contains(ground.mate)
