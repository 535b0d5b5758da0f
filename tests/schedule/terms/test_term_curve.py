"""Between routine and least driving: the choices of a term, worked out in the background, one of them taken."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from jobs.models import Job
from jobs.runner import run_job
from schedule.terms.models import TermCurve, TermPlan
from schedule.terms.selectors.curve import term_curve
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.curve import term_curve_ask, term_curve_save, term_point_take
from schedule.terms.services.plans import term_plan_start
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import TimetableSession, WeekPlan
from schedule.weeks.versions.content import content_read, content_to_json
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line
from tests.schedule.terms.test_term_pages import page
from tests.schedule.terms.test_term_plans import WEEK, drafts, moments, planned


@pytest.fixture
def term(cast: Cast) -> TermPlan:
    """Two weeks; F1 in the south stands between two of the north on one morning, for no good reason."""
    make_ground(cast)
    south, north = make_line(cast, "F1", building=cast.south), make_line(cast, "G1")
    term = planned(cast, weeks=2)
    for line, start, end in ((cast.line, "8:30", "9:00"), (south, "10:10", "10:40"), (north, "11:35", "12:05")):
        row = TimetableSession.objects.filter(timetable=term.standing, planner_key=f"line-{line.pk}").first()
        assert row is not None
        TimetableSession.objects.filter(pk=row.pk).update(weekday=0, start=at(start), end=at(end))
    return term


def worked(term: TermPlan, cast: Cast) -> TermCurve:
    curve = term_curve_ask(actor=cast.teacher, term=term)
    run_job(curve.job_id)
    curve.refresh_from_db()
    return curve


@pytest.mark.long
def test_points_go_from_routine_to_least_driving_and_one_becomes_the_plan(cast: Cast, term: TermPlan) -> None:
    """By hand: to the south and back is 36 minutes of each week, and one session that leaves saves them."""
    curve = worked(term, cast)
    job = Job.objects.get(pk=curve.job_id)
    assert (job.state, job.error) == (Job.State.DONE, "")
    view = term_curve(cast.teacher, term)
    assert view is not None
    routine, least = view.points
    assert (routine.worths, routine.kept, routine.open, routine.drive_minutes) == ((60,), 8, 8, 72)
    assert (least.worths, least.kept, least.open, least.drive_minutes) == ((0, 2, 5, 10, 20), 6, 8, 0)
    assert (routine.weeks_changed, least.weeks_changed) == (0, 2)
    assert not any(one.taken for one in view.points), "the term's drafts are those of another timetable"
    assert not view.cut
    text = page(cast.teacher, "term", term.pk)
    assert "A usual time is left where that saves at least 60 minutes in a week." in text
    assert "Each week drives as little as it can." in text

    before = [moments(week) for week in drafts(term)]
    taken = term_point_take(actor=cast.teacher, term=term, worth=0)
    assert taken.worth == 0
    shown = term_detail(cast.teacher, term_get(cast.teacher, term.pk))
    assert (shown.drive_minutes, shown.kept, shown.open, len(shown.weeks)) == (0, 6, 8, 2)
    assert (shown.minutes_placed, shown.minutes_owed, shown.drafts) == (240, 240, 2)
    assert all(one.why == "saves_driving" for week in shown.weeks for one in week.exceptions)
    assert [moments(week) for week in drafts(term)] != before
    again = term_curve(cast.teacher, term_get(cast.teacher, term.pk))
    assert again is not None
    assert [one.taken for one in again.points] == [False, True]
    assert AuditEntry.objects.get(action="term_point_take").changes == {"worth": [60, 0]}

    # And back again: that one is as good as the first.
    term_point_take(actor=cast.teacher, term=term_get(cast.teacher, term.pk), worth=60)
    shown = term_detail(cast.teacher, term_get(cast.teacher, term.pk))
    assert (shown.drive_minutes, shown.kept, shown.worth) == (72, 8, 60)


def test_a_choice_replaces_no_week_that_somebody_has_touched(cast: Cast, things_found: TermPlan) -> None:
    """Published or changed by hand: it stays, and the remedy is said."""
    week, *_ = drafts(things_found)
    WeekPlan.objects.filter(pk=week.pk).update(revision=2)
    with pytest.raises(ApplicationError) as refused:
        term_point_take(actor=cast.teacher, term=things_found, worth=60)
    assert refused.value.code == "changed_since"
    assert "the week of September 14, 2026 was published or changed by hand" in refused.value.message
    text = page(cast.teacher, "term", things_found.pk)
    assert "Plan again with this choice" in text
    assert "Make these the drafts" not in text
    assert "&amp;worth=60" in text
    assert 'value="60"' in page(cast.teacher, "term_plan", worth="60")


def test_a_term_that_was_taken_back_can_have_another_choice(cast: Cast, things_found: TermPlan) -> None:
    """Its weeks are drafts again; while they are in force nothing replaces them."""
    term_publish(actor=cast.teacher, term=things_found)
    with pytest.raises(ApplicationError) as refused:
        term_point_take(actor=cast.teacher, term=things_found, worth=0)
    assert refused.value.code == "changed_since"
    term_take_back(actor=cast.teacher, term=term_get(cast.teacher, things_found.pk), today=MONDAY - WEEK)
    term_point_take(actor=cast.teacher, term=term_get(cast.teacher, things_found.pk), worth=0)
    [week] = drafts(things_found)
    assert week.sessions.count() == 1


@pytest.fixture
def things_found(cast: Cast) -> TermPlan:
    """A planned term of one week whose choices are kept: the week as it is, and the same without a session."""
    make_ground(cast)
    term = planned(cast, weeks=1)
    curve = term_curve_ask(actor=cast.teacher, term=term)
    content = content_to_json(content_read(drafts(term)[0]))
    fewer = {**content, "sessions": content["sessions"][1:]}
    summary = {key: value for key, value in term.summary.items() if key not in {"ways", "minutes", "shared"}}
    monday = MONDAY.isoformat()
    points = [
        {"worths": [60], "weeks": [0], "summary": summary},
        {"worths": [0, 2], "weeks": [1], "summary": {**summary, "kept": 1}},
    ]
    found = {"points": points, "contents": [[monday, content], [monday, fewer]], "cut": False}
    term_curve_save(curve=curve, found=found)
    Job.objects.filter(pk=curve.job_id).update(state=Job.State.DONE)
    return term


def test_a_point_is_taken_by_press_and_by_api(cast: Cast, things_found: TermPlan) -> None:
    client = Client()
    client.force_login(cast.teacher)
    answer = client.post(reverse("term_point_take", args=[things_found.pk]), {"worth": "0"}, follow=True)
    assert "Another choice can be taken as well." in answer.content.decode()
    [week] = drafts(things_found)
    assert week.sessions.count() == 1
    sent: dict[str, Any] = {"content_type": "application/json"}
    back = client.post(reverse("api:term-take-point", args=[things_found.pk]), {"worth": 60}, **sent)
    assert (back.status_code, back.json()["worth"]) == (200, 60)
    [week] = drafts(things_found)
    assert week.sessions.count() == 2
    none = client.post(reverse("api:term-take-point", args=[things_found.pk]), {"worth": 7}, **sent)
    assert none.status_code == 404
    found = client.get(reverse("api:term-curve", args=[things_found.pk])).json()
    assert [(one["worths"], one["taken"]) for one in found["points"]] == [([60], True), ([0, 2], False)]


def test_asking_twice_asks_once_and_it_can_be_stopped(cast: Cast, things_found: TermPlan) -> None:
    client = Client()
    client.force_login(cast.teacher)
    address = reverse("term_curve", args=[things_found.pk])
    for _ in range(2):
        assert client.post(address).headers["Location"].endswith("#curve")
    assert TermCurve.objects.count() == 2, "the one that is there, and one more"
    waits = client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "Stop and keep what was found" in waits
    client.post(reverse("term_curve_stop", args=[things_found.pk]))
    shown = client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "No choice had been found by then" in shown


def test_a_term_without_a_timetable_has_no_choices(cast: Cast) -> None:
    make_ground(cast)
    term = term_plan_start(actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(11))
    with pytest.raises(ApplicationError) as refused:
        term_curve_ask(actor=cast.teacher, term=term)
    assert refused.value.code == "not_planned"
