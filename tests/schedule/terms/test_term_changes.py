"""A change in the middle of a term: what moves in the standing timetable, in which ways, and whom to tell."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.plans.models import ServiceLine, StudentHold
from jobs.runner import run_job
from schedule.calendar.models import SpaceFreeTime
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.publishing import term_publish
from schedule.weeks.models import TimetableSession
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned
from travel.places.models import Space
from travel.places.services import space_save

LATER = MONDAY + 2 * WEEK


@pytest.fixture
def in_force(cast: Cast) -> TermPlan:
    """Five weeks: S01 twice a week and G1 in the north, F1 in the south; all of it published."""
    make_ground(cast)
    make_line(cast, "G1")
    make_line(cast, "F1", building=cast.south)
    term = planned(cast, weeks=5)
    term_publish(actor=cast.teacher, term=term)
    return term_get(cast.teacher, term.pk)


def stands(term: TermPlan) -> set[tuple[str, int | None, dt.time]]:
    rows = TimetableSession.objects.filter(timetable=term.standing)
    return {(one.planner_key, one.weekday, one.start) for one in rows}


def test_nothing_moves_where_nothing_changed(cast: Cast, in_force: TermPlan) -> None:
    term = planned(cast, first=LATER, weeks=3)
    assert term.based_on == in_force.standing
    assert stands(term) == stands(in_force)
    [way] = term_detail(cast.teacher, term).ways
    assert (way.moves, way.taken) == ((), True)


def test_a_new_student_fits_in_and_nobody_moves(cast: Cast, in_force: TermPlan) -> None:
    line = make_line(cast, "N1", building=cast.south, start=LATER + WEEK)
    term = planned(cast, first=LATER, weeks=3)
    ways = term_detail(cast.teacher, term).ways
    assert (ways[0].way, ways[0].taken, ways[0].moved, ways[0].proved) == ("fewest_moves", True, 0, True)
    [new] = ways[0].moves
    assert "Quernmore-N1" in new.who
    assert new.before == ""
    assert cast.south.name in new.after
    assert new.begins == LATER + WEEK
    assert [(one.building_code, one.sessions) for one in ways[0].tell] == [(cast.south.code, 1)]
    attending = TimetableSession.objects.filter(timetable=term.standing, attendees__service_line=line)
    assert attending.count() == 1
    assert {spot[1:] for spot in stands(term)} >= {spot[1:] for spot in stands(in_force)}
    assert all(week.kept == week.expected for week in term_detail(cast.teacher, term).weeks)


def test_a_time_that_is_lost_moves_that_session_alone(cast: Cast, in_force: TermPlan) -> None:
    """From then on G1 can't be taken on the weekday at which G1 stands."""
    own = ServiceLine.objects.get(plan__student__code="G1")
    [(key, weekday, start)] = [one for one in stands(in_force) if one[0] == f"line-{own.pk}"]
    assert weekday is not None
    StudentHold.objects.create(
        student=own.plan.student,
        days=("Mon", "Tue", "Wed", "Thu", "Fri")[weekday],
        start=dt.time(8),
        end=dt.time(15),
    )
    term = planned(cast, first=LATER, weeks=3)
    ways = term_detail(cast.teacher, term).ways
    assert (ways[0].moved, len(ways[0].moves)) == (1, 1)
    [move] = ways[0].moves
    assert move.before.startswith(f"{('Mon', 'Tues', 'Wednes', 'Thurs', 'Fri')[weekday]}days {start:%-I:%M}, ")
    assert move.after
    assert cast.north.name not in move.after, "the same school is said once"
    assert stands(in_force) - stands(term) == {(key, weekday, start)}
    assert all(week.kept == week.expected for week in term_detail(cast.teacher, term).weeks)


def test_a_gym_that_is_gone_moves_what_stood_in_it(cast: Cast) -> None:
    """North has a gym, free on every day, and a small room that is free on two days. The gym's last day is one of
    the old timetable, so what stood in it has these left; the south keeps its time."""
    make_ground(cast)
    gym = Space.objects.get(building=cast.north, name="Gym")
    room = Space.objects.create(building=cast.north, name="Small room", kind="multipurpose")
    SpaceFreeTime.objects.create(space=room, days="Thu,Fri", start=at("8:00"), end=at("15:00"))
    make_line(cast, "F1", building=cast.south)
    term = planned(cast, weeks=5)
    term_publish(actor=cast.teacher, term=term)
    before = stands(term)
    in_gym = TimetableSession.objects.filter(timetable=term.standing, space=gym)
    assert in_gym.exists(), "S01 is held in the gym before"
    south = {one for one in before if one[0] != f"line-{cast.line.pk}"}
    space_save(actor=cast.coordinator, row=gym, values={"last_day": LATER - dt.timedelta(days=1)})

    after = planned(cast, first=LATER, weeks=3)
    assert {weekday for key, weekday, _ in stands(after) if key == f"line-{cast.line.pk}"} <= {3, 4}
    assert south <= stands(after)
    assert not TimetableSession.objects.filter(timetable=after.standing, space=gym).exists()
    way = term_detail(cast.teacher, after).ways[0]
    assert way.moved >= 1
    assert {one.building_code for one in way.tell} == {cast.north.code}


def test_planned_afresh_nothing_is_compared(cast: Cast, in_force: TermPlan) -> None:
    client = Client()
    client.force_login(cast.teacher)
    text = client.get(reverse("term_plan"), {"week": LATER.isoformat()}).content.decode()
    assert "A timetable is in force from September 14 to October 16, 2026" in text
    assert 'value="2026-10-16"' in text, "until the end of what is in force"
    assert 'name="afresh"' in text
    asked = {"first_date": LATER, "last_date": LATER + WEEK, "worth": 60, "time_limit": 30, "afresh": "on"}
    client.post(reverse("term_plan"), asked)
    assert TermPlan.objects.latest("pk").afresh


def test_the_other_way_is_a_plan_of_its_own(cast: Cast, in_force: TermPlan) -> None:
    make_line(cast, "N1", building=cast.south, start=LATER)
    term = planned(cast, first=LATER, weeks=1)
    client = Client()
    client.force_login(cast.teacher)
    page = client.get(reverse("term", args=[term.pk])).content.decode()
    assert "What changes in the timetable in force" in page
    assert "Something changes" in client.get(reverse("term", args=[in_force.pk])).content.decode()
    assert "Quernmore-N1: new, " in page or "Quernmore-N1 + " in page
    answer = client.post(reverse("term_way", args=[term.pk]), {"way": "least_driving"})
    other = TermPlan.objects.latest("pk")
    assert answer["Location"] == reverse("term", args=[other.pk])
    assert (other.way, other.run.first_date, other.run.last_date) == (
        "least_driving", term.run.first_date, term.run.last_date,
    )  # fmt: skip
    assert client.post(reverse("term_way", args=[term.pk]), {"way": "x"}).status_code == 404


@pytest.mark.long
def test_three_ways_stand_side_by_side_where_there_are_three(cast: Cast) -> None:
    """By hand, to the south and back is 36 minutes. On Mondays one session of the south stands between two of the
    north, on Tuesdays two do: the one may join the two, and all three on a day of their own save the rest too."""
    make_ground(cast)
    alone: dict[str, Any] = {"setting": ServiceLine.Setting.ONE_TO_ONE, "largest_group": 1}
    lines = {code: make_line(cast, code, **alone) for code in ("G1", "G2")}
    lines |= {code: make_line(cast, code, building=cast.south, **alone) for code in ("F1", "F2", "F3")}
    before = planned(cast, weeks=4)
    stand = {"F1": (0, "10:10"), "G1": (0, "11:35"), "F2": (1, "10:10"), "F3": (1, "11:35"), "G2": (1, "13:15")}
    rows = TimetableSession.objects.filter(timetable=before.standing)
    spots = [(rows.get(planner_key=f"line-{lines[code].pk}"), *spot) for code, spot in stand.items()]
    spots += [(row, weekday, "8:30") for weekday, row in enumerate(rows.filter(planner_key=f"line-{cast.line.pk}"))]
    for row, weekday, clock in spots:
        end = (dt.datetime.combine(MONDAY, at(clock)) + dt.timedelta(minutes=30)).time()
        TimetableSession.objects.filter(pk=row.pk).update(weekday=weekday, start=at(clock), end=end)
    term_publish(actor=cast.teacher, term=before)

    term = planned(cast, first=LATER, weeks=2)
    fewest, between, least = term_detail(cast.teacher, term).ways
    assert (fewest.label, fewest.moved, fewest.drive_minutes) == ("Fewest moves", 0, 72)
    assert (between.label, between.moved, between.drive_minutes) == ("In between", 1, 36)
    assert (least.label, least.moved, least.drive_minutes) == ("Least driving", 3, 0)
    assert between.beside == "1 more session moves than by the fewest moves, and 36 minutes of driving are saved."
    assert {one.building_code for one in between.tell} == {cast.south.code}
    client = Client()
    client.force_login(cast.teacher)
    text = client.get(reverse("term", args=[term.pk])).content.decode()
    assert text.count("Plan it this way instead") == 2
    assert between.beside in text
    client.post(reverse("term_way", args=[term.pk]), {"way": "in_between"})
    other = TermPlan.objects.latest("pk")
    run_job(other.run.job_id)
    ways = term_detail(cast.teacher, other).ways
    assert [(one.way, one.taken) for one in ways][:2] == [("in_between", True), ("fewest_moves", False)]
    assert len(stands(before) - stands(term_get(cast.teacher, other.pk))) == 1
