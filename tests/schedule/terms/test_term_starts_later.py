"""A change that is better in a later week: beside the others, planned, in force from then on, taken back."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from caseload.plans.models import ServiceLine, StudentHold
from jobs.runner import run_job
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import TimetableSession
from schedule.weeks.versions.standing import standing_in_force
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

AGAIN = MONDAY + WEEK
SINCE = MONDAY + 3 * WEEK
ALONE = ServiceLine.Setting.ONE_TO_ONE


@pytest.fixture
def changed(cast: Cast) -> TermPlan:
    """S01 stands on Mondays and Tuesdays at 8:30, G1 on Mondays at 10:10 until October 2, F1 on Wednesdays.

    From September 21 on N1 is owed, and can be taken at no other time than S01's Monday or G1's.
    """
    make_ground(cast)
    make_line(cast, "G1", setting=ALONE, largest_group=1, end=SINCE - dt.timedelta(days=3))
    make_line(cast, "F1", building=cast.south, setting=ALONE, largest_group=1)
    before = planned(cast, weeks=6)
    stand = {"G1": [(0, "10:10")], "F1": [(2, "10:10")], "S01": [(0, "8:30"), (1, "8:30")]}
    for code, spots in stand.items():
        rows = TimetableSession.objects.filter(timetable=before.standing, attendees__student__code=code).order_by(
            "pk"
        )
        for row, (weekday, clock) in zip(rows, spots, strict=True):
            end = (dt.datetime.combine(MONDAY, at(clock)) + dt.timedelta(minutes=30)).time()
            TimetableSession.objects.filter(pk=row.pk).update(weekday=weekday, start=at(clock), end=end)
    term_publish(actor=cast.teacher, term=before)
    new = make_line(cast, "N1", setting=ALONE, largest_group=1, start=AGAIN).plan.student
    held = [("Mon", "9:00", "10:10"), ("Mon", "10:40", "15:00")]
    held += [(day, "8:00", "15:00") for day in ("Tue", "Wed", "Thu", "Fri")]
    for day, begin, finish in held:
        StudentHold.objects.create(student=new, days=day, start=at(begin), end=at(finish))
    return planned(cast, first=AGAIN, weeks=5)


@pytest.fixture
def client(cast: Cast) -> Client:
    found = Client()
    found.force_login(cast.teacher)
    return found


def chosen(cast: Cast, client: Client, term: TermPlan) -> TermPlan:
    client.post(reverse("term_way", args=[term.pk]), {"way": "starts_later"})
    other = TermPlan.objects.latest("pk")
    run_job(other.run.job_id)
    return term_get(cast.teacher, other.pk)


def test_beginning_later_stands_beside_the_fewest_moves(cast: Cast, client: Client, changed: TermPlan) -> None:
    """At once S01's Monday moves for good. From October 5 on nobody does; until then it gives way in two weeks."""
    ways = {one.way: one for one in term_detail(cast.teacher, changed).ways}
    at_once, later = ways["fewest_moves"], ways["starts_later"]
    assert (at_once.taken, at_once.left, at_once.since) == (True, 1, None)
    assert (later.left, later.once, later.since, later.proved) == (0, 2, SINCE, True)
    [moved] = [one for one in at_once.moves if one.before]
    assert (moved.before[:12], cast.student.code in moved.who) == ("Mondays 8:30", True)
    assert later.unplaced == at_once.unplaced == 0
    [new] = later.moves
    assert "Quernmore-N1" in new.who
    assert new.after.startswith("Mondays 10:10, ")
    assert [(one.building_code, one.sessions) for one in later.tell] == [(cast.north.code, 1)]

    page = client.get(reverse("term", args=[changed.pk])).content.decode()
    assert "Begins in the week of October 5." in page
    assert "1 fewer session moves for good than at once." in page
    assert "In single weeks 2 sessions are elsewhere than usual." in page
    told = {one["way"]: one for one in client.get(f"/api/1/terms/{changed.pk}/").json()["ways"]}
    assert (told["starts_later"]["since"], told["fewest_moves"]["since"]) == ("2026-10-05", None)


def test_planned_that_way_the_timetable_in_force_stays_until_then(
    cast: Cast, client: Client, changed: TermPlan
) -> None:
    term = chosen(cast, client, changed)
    view = term_detail(cast.teacher, term)
    assert next(one.way for one in view.ways if one.taken) == "starts_later"
    [later] = view.later
    assert (later.since, later.proved) == (SINCE, True)
    assert [(bool(one.before), one.after[:13]) for one in later.moves] == [(False, "Mondays 10:10")]
    away = [(week.monday, len(week.exceptions)) for week in view.weeks if week.exceptions]
    assert [monday for monday, _ in away] == [AGAIN, AGAIN + WEEK]
    assert view.minutes_left == 0

    in_force = standing_in_force(cast.teacher, AGAIN)
    term_publish(actor=cast.teacher, term=term)
    assert standing_in_force(cast.teacher, AGAIN) == term.standing != in_force
    assert standing_in_force(cast.teacher, SINCE) == term.later.get()
    term_take_back(actor=cast.teacher, term=term_get(cast.teacher, term.pk), today=MONDAY)
    assert standing_in_force(cast.teacher, AGAIN) == standing_in_force(cast.teacher, SINCE) == in_force


def test_the_api_plans_it_by_the_same_service(cast: Cast, client: Client, changed: TermPlan) -> None:
    asked = {"first_date": AGAIN, "last_date": changed.run.last_date, "way": "starts_later", "time_limit": 20}
    answer = client.post("/api/1/terms/", asked, content_type="application/json")
    assert answer.status_code == 201
    term = TermPlan.objects.get(pk=answer.json()["term_id"])
    run_job(term.run.job_id)
    assert [one["since"] for one in client.get(f"/api/1/terms/{term.pk}/").json()["later"]] == ["2026-10-05"]


def test_where_no_later_week_is_better_it_begins_at_once(cast: Cast, client: Client, changed: TermPlan) -> None:
    """From the week on in which G1 is gone there is nothing to wait for."""
    term = planned(cast, first=SINCE, weeks=3)
    assert "starts_later" not in {one.way for one in term_detail(cast.teacher, term).ways}
    taken = next(one for one in term_detail(cast.teacher, chosen(cast, client, term)).ways if one.taken)
    assert (taken.way, taken.since, taken.left) == ("starts_later", None, 0)
