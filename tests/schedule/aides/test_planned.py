"""Weeks are planned at an aide's hours, for students who need one there. September 14, 2026 is a Monday."""

import datetime as dt

import pytest

from caseload.care.models import Contact, Support
from schedule.aides.models import AideHours
from schedule.aides.services import aide_hours_save
from schedule.planner.asking.favor_kinds import favors_of
from schedule.weeks.planning.load import load_week
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_cycle, make_ground, make_line, minute, minutes_on

TEN, NINE = minute("10:10"), minute("9:20")


@pytest.fixture
def orel(cast: Cast) -> Contact:
    """S01's own aide."""
    make_ground(cast)
    return Contact.objects.create(student=cast.student, role="aide", name="Ms. Orel", phone="555 0142")


def hours(cast: Cast, contact: Contact, times: str, first: dt.date = MONDAY) -> AideHours:
    return aide_hours_save(
        actor=cast.teacher, row=AideHours(contact=contact), values={"first_day": first, "times": times}
    )


def needs(cast: Cast, first: dt.date | None = None, last: dt.date | None = None) -> None:
    Support.objects.create(student=cast.student, kind="aide", text="One aide", first_day=first, last_day=last)


def own_key(cast: Cast) -> str:
    return f"line-{cast.line.pk}"


def test_a_session_is_planned_while_the_aide_is_there(cast: Cast, orel: Contact) -> None:
    hours(cast, orel, "Mon-Thu 9:00 to 10:05")
    free = minutes_on(load_week(cast.teacher, MONDAY), own_key(cast), date(4))
    assert TEN in free, "nobody says that an aide is needed"
    needs(cast)
    week = load_week(cast.teacher, MONDAY)
    assert minutes_on(week, own_key(cast), date(4)) == set(), "she isn't there on Fridays"
    on_monday = minutes_on(week, own_key(cast), MONDAY)
    assert on_monday
    assert on_monday == {one for one in free if minute("9:00") <= one and one + 30 <= minute("10:05")}
    barred = next(one for one in week.problem.services if one.id == own_key(cast)).barred
    said = {one.text for one in barred if (one.day, one.at) == (MONDAY.isoformat(), TEN)}
    assert said == {"an aide is needed, and Ms. Orel is there from 9:00 to 10:05"}


def test_new_hours_hold_from_their_first_day_on(cast: Cast, orel: Contact) -> None:
    needs(cast)
    hours(cast, orel, "8:30 to 9:15", first=MONDAY)
    hours(cast, orel, "12:25 to 2:00", first=date(2))
    week = load_week(cast.teacher, MONDAY)
    assert {one < minute("9:15") for one in minutes_on(week, own_key(cast), date(1))} == {True}
    assert {one >= minute("12:25") for one in minutes_on(week, own_key(cast), date(2))} == {True}


def test_only_on_days_on_which_the_plan_asks_for_an_aide(cast: Cast, orel: Contact) -> None:
    needs(cast, first=date(1), last=date(2))
    hours(cast, orel, "")
    week = load_week(cast.teacher, MONDAY)
    open_on = {day for day in range(5) if minutes_on(week, own_key(cast), date(day))}
    assert open_on == {0, 3, 4}


def test_hours_by_cycle_day(cast: Cast, orel: Contact) -> None:
    make_cycle(cast.north)
    needs(cast)
    hours(cast, orel, "Day 2 8:30 to 2:00")
    week = load_week(cast.teacher, MONDAY)
    assert {day for day in range(5) if minutes_on(week, own_key(cast), date(day))} == {1}


def test_a_class_is_taken_while_its_aide_is_there_for_whoever_needs_one(cast: Cast, orel: Contact) -> None:
    """Two of the class need an aide. What bars both is one rule, which is said and could be asked about."""
    orel.delete()
    pym = Contact.objects.create(school_class=cast.room4, role="aide", name="Mr. Pym", phone="555 0143")
    hours(cast, pym, "Mon-Fri 8:00 to 9:15")
    for code in ("C1", "C2"):
        line = make_line(cast, code, home_class=cast.room4, setting="own_class")
        Support.objects.create(student=line.plan.student, kind="aide", text="One aide")
    week = load_week(cast.teacher, MONDAY)
    (service,) = [one for one in week.problem.services if one.id.startswith(f"class-{cast.room4.pk}-")]
    assert {one.at + service.minutes <= minute("9:15") for one in service.starts} == {True}
    at_ten = {one.text for one in service.barred if (one.day, one.at) == (MONDAY.isoformat(), TEN)}
    assert at_ten == {"an aide is needed, and Mr. Pym is there from 8:00 to 9:15"}
    asked = [one for one in favors_of(week.problem) if one.code == "aide_away" and one.day == MONDAY.isoformat()]
    assert [one.ask for one in asked] == ["Mr. Pym, about the hours"]
    assert asked[0].what.startswith("If an aide were there ")


def test_the_aide_asks_nothing_of_a_consultation(cast: Cast, orel: Contact) -> None:
    needs(cast)
    hours(cast, orel, "")
    cast.line.service_type = "consultation"
    cast.line.save()
    week = load_week(cast.teacher, MONDAY)
    assert week.problem.unit(own_key(cast)).starts
