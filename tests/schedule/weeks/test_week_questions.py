"""Favors, the price of staying and names of drafts: services, jobs and pages; who may ask and see what."""

import datetime as dt
import re

import pytest
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import StudentHold
from caseload.plans.naming import unmarked
from jobs.runner import work_once
from schedule.calendar.models import ContractDay, Meeting, SpaceFreeTime
from schedule.planner.check import check
from schedule.planner.problem import Session
from schedule.planner.result import Itinerary
from schedule.weeks.models import UnplacedSession, WeekPlan, WeekQuestion
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.editing import edit_input
from schedule.weeks.planning.questions import favors_input, movables
from schedule.weeks.selectors.questions import curve_found, favors_found
from schedule.weeks.selectors.weeks import compare_weeks, week_detail
from schedule.weeks.services.questions import (
    week_curve_ask,
    week_favors_ask,
    week_point_save,
    week_question_stop,
    week_rename,
)
from schedule.weeks.services.weeks import week_publish
from schedule.weeks.timing import time_week
from schedule.weeks.versions.content import content_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_week
from tests.schedule.runs import plan_now
from tests.schedule.weeks.test_week_pages import client_of, page

pytestmark = pytest.mark.django_db

NAMES = re.compile(r"Ola|Tarn")


@pytest.fixture
def draft(cast: Cast) -> WeekPlan:
    """S01 owes two sessions one to one in the north; the gym there is free on Monday and Tuesday at 8:30 only."""
    make_ground(cast)
    for day in ("Mon", "Tue"):
        SpaceFreeTime.objects.create(space=cast.gym, days=day, start=at("8:30"), end=at("9:10"))
    own = f"line-{cast.line.pk}"
    return make_week(cast, [(own, date(0), "8:30"), (own, date(1), "8:30")])


@pytest.fixture
def lacking(cast: Cast, draft: WeekPlan) -> WeekPlan:
    """The same with Tuesday's session unplaced: S01 can't be taken on Tuesday until 9:30."""
    StudentHold.objects.create(student=cast.student, days="Tue", start=at("8:00"), end=at("9:30"))
    run = plan_now(cast.teacher, MONDAY, date(4), seconds=5)
    week = WeekPlan.objects.get(plan_run=run)
    assert UnplacedSession.objects.get(week=week).sessions == 1
    return week


@pytest.fixture
def in_force(cast: Cast, draft: WeekPlan) -> WeekPlan:
    """The first week in force."""
    return week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)


def finish(question: WeekQuestion) -> WeekQuestion:
    """Let the worker answer."""
    assert work_once()
    question.refresh_from_db()
    assert question.job.state == "done", question.job.error
    return question


def test_the_clash_stands_among_the_reasons(lacking: WeekPlan) -> None:
    reasons = UnplacedSession.objects.get(week=lacking).reasons
    clash = next(one for one in reasons if "kept out by" in one)
    assert "S01 can't be taken 8:00 to 9:30" in unmarked(clash)


def test_favors_name_the_space_or_the_time_and_whom_to_ask(cast: Cast, lacking: WeekPlan) -> None:
    """Moving the hold places the session; so does the gym on another day, each at the cost that it says."""
    finish(week_favors_ask(actor=cast.teacher, week=lacking))
    found = favors_found(cast.teacher, lacking)
    assert found is not None
    assert found.favors
    assert all(one.minutes_placed == 30 and one.everything_fits and one.proved for one in found.favors)
    held = [one for one in found.favors if "were moved (now: Ola Tarn S01 can't be taken 8:00 to 9:30" in one.text]
    gym = [one for one in found.favors if one.text.startswith("If Gym at North Hollow School were free in period")]
    assert held
    assert gym
    assert "everything fits" in gym[0].text
    assert "North Hollow School" in gym[0].ask
    assert not NAMES.search(str(WeekQuestion.objects.get().found))


def test_a_favor_comes_true(cast: Cast, lacking: WeekPlan) -> None:
    """The time kept free is moved, the week planned again: everything is placed, with the driving that was said."""
    finish(week_favors_ask(actor=cast.teacher, week=lacking))
    found = favors_found(cast.teacher, lacking)
    assert found is not None
    said = next(one for one in found.favors if "were moved (now:" in one.text)
    StudentHold.objects.filter(student=cast.student).delete()
    run = plan_now(cast.teacher, MONDAY, date(4), seconds=5)
    after = WeekPlan.objects.get(plan_run=run)
    values = [{goal["goal"]: goal["value"] for goal in week.figures["goals"]} for week in (lacking, after)]
    assert values[0]["unplaced"] - values[1]["unplaced"] == said.minutes_placed
    assert values[0]["driving"] - values[1]["driving"] == said.drive_saved


def test_the_contract_day_and_meetings_are_asked_about(cast: Cast, lacking: WeekPlan) -> None:
    """Tuesday's meeting takes all of the time in which the gym is free; without it the session has its place."""
    StudentHold.objects.all().delete()
    Meeting.objects.create(
        district=cast.district, teacher=cast.teacher, title="Team", weekday=1, start=at("8:15"), end=at("9:15")
    )
    run = plan_now(cast.teacher, MONDAY, date(4), seconds=5)
    week = WeekPlan.objects.get(plan_run=run)
    asked = movables(favors_input(week, content_read(week)))
    assert [(one.block.label, one.day) for one in asked.meetings] == [("Team", date(1).isoformat())]
    assert asked.who_sets_days
    finish(week_favors_ask(actor=cast.teacher, week=week))
    found = favors_found(cast.teacher, week)
    assert found is not None
    excused = next(one for one in found.favors if one.text.startswith("If you were excused from Team on Tuesday"))
    assert (excused.minutes_placed, excused.ask) == (30, "whoever calls the meeting")


def test_starts_beside_the_contract_day_are_known_but_used_by_no_week(cast: Cast, draft: WeekPlan) -> None:
    """A day that begins at 8:45: the gym's moment at 8:30 is a start of the problem, and no plan may use it."""
    ContractDay.objects.filter(teacher=cast.teacher).update(start=at("8:45"))
    content = content_read(draft)
    wider, usual = favors_input(draft, content), edit_input(draft, content)
    unit = f"line-{cast.line.pk}"
    assert {one.at for one in wider.problem.unit(unit).starts} - {one.at for one in usual.problem.unit(unit).starts}
    assert wider.problem.days == usual.problem.days
    assert any("outside the contract day" in one.text for one in check(wider.problem, held(wider)).violations)


def held(loaded: WeekInput) -> Itinerary:
    """A plan with one session at its earliest start."""
    start = min(loaded.problem.services[0].starts, key=lambda one: one.at)
    return time_week(loaded.problem, [Session(loaded.problem.services[0].id, start.day, start.at, start.place)])


def test_asking_twice_gives_the_question_under_way_and_it_can_be_stopped(cast: Cast, draft: WeekPlan) -> None:
    one = week_favors_ask(actor=cast.teacher, week=draft)
    assert week_favors_ask(actor=cast.coordinator, week=draft) == one
    week_question_stop(actor=cast.teacher, question=one)
    assert one.job.state == "stopped"
    assert set(one.job.payload) == {"week"}


def test_an_edited_week_says_that_the_answer_is_older(cast: Cast, draft: WeekPlan) -> None:
    finish(week_favors_ask(actor=cast.teacher, week=draft))
    WeekPlan.objects.filter(pk=draft.pk).update(revision=draft.revision + 1)
    found = favors_found(cast.teacher, draft)
    assert found is not None
    assert found.question.stale


def test_nothing_to_stay_with_is_said(cast: Cast, draft: WeekPlan) -> None:
    with pytest.raises(ApplicationError) as refused:
        week_curve_ask(actor=cast.teacher, week=draft)
    assert refused.value.code == "not_in_force"


def test_a_point_of_the_curve_becomes_a_draft(cast: Cast, in_force: WeekPlan) -> None:
    """A closed moment: Tuesday's session must move, Monday's stays; the draft holds what the point said."""
    SpaceFreeTime.objects.filter(days="Tue").update(days="Wed")
    finish(week_curve_ask(actor=cast.teacher, week=in_force))
    curve = curve_found(cast.teacher, in_force)
    assert curve is not None
    assert [one.moved for one in curve.points] == [1]
    assert any("S01" in sentence and "Wednesday" in sentence for sentence in curve.points[0].sentences)
    assert [(one.building_code, one.sessions) for one in curve.points[0].tell] == [("NORTH", 1)]
    saved = week_point_save(actor=cast.teacher, week=in_force, point=0)
    assert saved.name == f"1 session moved, {curve.points[0].driving} minutes of driving"
    content = content_read(saved)
    assert sorted((one.date, one.start) for one in content.sessions) == [(date(0), 510), (date(2), 510)]
    assert saved.status == WeekPlan.Status.DRAFT
    kept = {one.uid for one in content.sessions}
    assert kept == {one.uid for one in content_read(in_force).sessions}
    with pytest.raises(ApplicationError):
        week_point_save(actor=cast.teacher, week=in_force, point=1)


def test_drafts_are_named_and_published_ones_are_not(cast: Cast, draft: WeekPlan) -> None:
    assert week_rename(actor=cast.teacher, week=draft, name="  Less  driving ").name == "Less driving"
    with pytest.raises(ApplicationError):
        week_rename(actor=cast.teacher, week=draft, name="x" * 61)
    published = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    with pytest.raises(ApplicationError) as refused:
        week_rename(actor=cast.teacher, week=published, name="No")
    assert refused.value.code == "not_editable"


def test_weeks_of_different_mondays_are_not_compared(cast: Cast, draft: WeekPlan) -> None:
    far = make_week(cast, [], monday=date(7))
    with pytest.raises(ApplicationError) as refused:
        compare_weeks(cast.teacher, draft, far)
    assert refused.value.code == "other_week"


# ---- who may ask and see ---------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["mate", "stranger", "office", "substitute"])
def test_others_neither_ask_nor_see(cast: Cast, draft: WeekPlan, who: str) -> None:
    person: Person = getattr(cast, who)
    finish(week_favors_ask(actor=cast.teacher, week=draft))
    assert favors_found(person, draft) is None
    for service in (week_favors_ask, lambda **values: week_rename(name="x", **values)):
        with pytest.raises(ApplicationError) as refused:
            service(actor=person, week=draft)
        assert refused.value.status == 404
    assert list(WeekQuestion.objects.visible_to(person)) == []


# ---- pages -----------------------------------------------------------------------------------------------


def post(person: Person, route: str, *args: object, **values: object) -> str:
    """Send a form and read the page that it leads to."""
    answer = client_of(person).post(reverse(route, args=args), values, follow=True)
    assert answer.status_code == 200, answer.content.decode()[:1500]
    return str(answer.content.decode())


def test_favors_are_asked_for_and_read_on_the_compare_page(cast: Cast, lacking: WeekPlan) -> None:
    assert "Find what to ask for" in page(cast.teacher, "week_compare", lacking.pk)
    text = post(cast.teacher, "week_question_ask", lacking.pk, "favours")
    assert "Planning the week again with one favor after the other" in text
    assert "Stop and keep what was found" in text
    assert work_once()
    text = page(cast.teacher, "week_compare", lacking.pk)
    assert "everything fits" in text
    assert "Helps most at North Hollow School" in text
    assert "kept out by" in text
    part = client_of(cast.teacher).get(
        reverse("week_question", args=[lacking.pk, "favours"]), headers={"HX-Request": "true"}
    )
    assert part.content.decode().lstrip().startswith('<section id="favors"')


def test_where_the_week_itself_is_not_known_well_no_favor_is_priced_and_the_page_says_so(
    cast: Cast, lacking: WeekPlan
) -> None:
    question = finish(week_favors_ask(actor=cast.teacher, week=lacking))
    assert question.found["base_near"]
    question.found |= {"base_near": False, "base_proved": False, "favours": []}
    question.save()
    text = page(cast.teacher, "week_compare", lacking.pk)
    assert "No favor is priced yet" in text
    assert "That is certain" not in text
    assert "No single favor" not in text


def test_the_curve_is_asked_for_and_a_point_saved(cast: Cast, in_force: WeekPlan) -> None:
    SpaceFreeTime.objects.filter(days="Tue").update(days="Wed")
    post(cast.teacher, "week_question_ask", in_force.pk, "curve")
    assert work_once()
    text = page(cast.teacher, "week_compare", in_force.pk)
    assert "Keeping the times costs no driving" in text
    assert "<strong>1</strong> session moved" in text
    text = post(cast.teacher, "week_point_save", in_force.pk, point=0)
    assert "This week is saved as a draft." in text
    assert "Whom to tell" in text
    assert "Choose one of the weeks" in post(cast.teacher, "week_point_save", in_force.pk)


def test_drafts_are_called_by_when_they_were_made_and_not_by_an_id(cast: Cast, draft: WeekPlan) -> None:
    """New York is four hours behind UTC in September (IANA time zone database)."""
    WeekPlan.objects.filter(pk=draft.pk).update(created_at=dt.datetime(2026, 9, 11, 18, 10, tzinfo=dt.UTC))
    other = make_week(cast, [])
    WeekPlan.objects.filter(pk=other.pk).update(created_at=dt.datetime(2026, 9, 11, 18, 10, 30, tzinfo=dt.UTC))
    text = page(cast.teacher, "week_compare", draft.pk)
    assert "Draft of Sep 11, 2:10 PM: week of September 14" in text
    assert f'<option value="{other.pk}">Draft of Sep 11, 2:10 PM (second)</option>' in text
    assert "no. " not in text
    versions = page(cast.teacher, "week_versions", week=f"{draft.monday}")
    assert "Draft of Sep 11, 2:10 PM" in versions
    assert "September 11, 2:10 PM" in versions
    assert week_detail(cast.teacher, other).title == "Draft of Sep 11, 2:10 PM (second)"


def test_a_draft_is_named_and_put_beside_another(cast: Cast, draft: WeekPlan) -> None:
    other = make_week(cast, [(f"line-{cast.line.pk}", date(0), "8:30")])
    assert "The draft is named." in post(cast.teacher, "week_rename", draft.pk, name="Monday and Tuesday")
    text = page(cast.teacher, "week_compare", other.pk, **{"with": draft.pk})
    assert '<th scope="col" class="number">Monday and Tuesday</th>' in text
    assert f'<option value="{draft.pk}" selected>Monday and Tuesday' in text
    assert "Taken out (1)" in text
    assert "Monday and Tuesday" in page(cast.teacher, "week_versions", week=str(MONDAY))


def test_a_question_of_no_kind_is_not_there(cast: Cast, draft: WeekPlan) -> None:
    assert client_of(cast.teacher).post(reverse("week_question_ask", args=[draft.pk, "luck"])).status_code == 404
    assert client_of(cast.teacher).post(reverse("week_question_stop", args=[draft.pk, "curve"])).status_code == 404
