"""Everybody's week: a draft for each, by turns where something is shared, the same whoever works at which moment.

What is asserted are the rules of docs/everybody.md; no outside source.
"""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from jobs.models import Job
from jobs.runner import run_claimed, run_job
from jobs.services import job_claim, job_stop_ask
from schedule.calendar.models import ContractDay, TeacherRules
from schedule.everybody.models import EverybodyPlan, EverybodyTurn
from schedule.everybody.selectors.sharing import few_words, teachers_standing
from schedule.everybody.selectors.shown import EverybodyTurnView, everybody_get, everybody_view
from schedule.everybody.services import (
    everybody_go_on_due,
    everybody_start,
    everybody_stop,
    everybody_take_back,
)
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlannedSession, PlanRun, WeekPlan
from schedule.weeks.services.runs import plan_run_start
from schedule.weeks.versions.content import content_read
from tests.api import Api
from tests.conftest import Cast, make_person
from tests.schedule.builders import MONDAY, date, make_line
from tests.schedule.weeks.planning.two_teachers import make_rules, make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import client_of, page

BEFORE = dt.datetime(2026, 9, 8, 12, tzinfo=dt.UTC)
"""A Tuesday before the week that is planned."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers serve S01 in one building with a gym; a third has a student of the other building alone."""
    make_two_teachers(cast)
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    make_rules(cast, third)
    make_line(cast, "T1", building=cast.south, teacher=third)
    return cast


def third_of(cast: Cast) -> Person:
    return Person.objects.get(district=cast.district, username="third")


def started(cast: Cast, **values: Any) -> EverybodyPlan:
    teachers = [cast.teacher, cast.mate, third_of(cast)]
    asked = {"teachers": teachers, "monday": date(2), "time_limit": 2, "now": BEFORE, **values}
    return everybody_start(actor=cast.coordinator, **asked)


def waiting() -> list[Job]:
    """Turns that could be worked now."""
    return list(Job.objects.filter(kind="plan_week", state=Job.State.WAITING).order_by("created_at"))


def work_all(*, newest_first: bool = False) -> None:
    """Work turns until none waits, as one worker does, or in the other order of those that wait."""
    while jobs := waiting():
        run_job(jobs[-1 if newest_first else 0].pk)


def turns(cast: Cast, plan: EverybodyPlan) -> dict[str, EverybodyTurnView]:
    view = everybody_view(cast.coordinator, everybody_get(cast.coordinator, plan.pk))
    return {one.teacher.split()[0]: one for one in view.turns}


def held(plan: EverybodyPlan) -> list[tuple[object, ...]]:
    """Every session of the plan's weeks: whose, when, where, with whom."""
    rows = PlannedSession.objects.filter(week__plan_run__everybody_turn__plan=plan)
    fields = ("week__teacher", "date", "start", "end", "building", "space", "attendees__student")
    return sorted(rows.values_list(*fields), key=str)


def test_everybody_gets_a_draft_and_who_shares_waits(ground: Cast) -> None:
    plan = started(ground)
    assert plan.monday == MONDAY
    seen = turns(ground, plan)
    # The teacher has one student as the mate has (S01), so the name decides: Mate before Teacher.
    assert {name: (one.state, one.message) for name, one in seen.items()} == {
        "Mate": ("waits", "For a free worker."),
        "Teacher": ("waits", "For Mate Vey."),
        "Third": ("waits", "For a free worker."),
    }
    assert len(waiting()) == 2
    work_all()
    view = everybody_view(ground.coordinator, everybody_get(ground.coordinator, plan.pk))
    assert view.is_over
    assert (view.ended, view.planned, view.drafts, view.percent) == (3, 3, 3, 100)
    drafts = WeekPlan.objects.filter(status="draft", monday=MONDAY)
    assert set(drafts.values_list("teacher", flat=True)) == {
        ground.teacher.pk,
        ground.mate.pk,
        third_of(ground).pk,
    }
    meets = [
        (one, other)
        for one in PlannedSession.objects.filter(week__teacher=ground.teacher)
        for other in PlannedSession.objects.filter(week__teacher=ground.mate)
        if one.date == other.date and one.start < other.end and other.start < one.end
        if set(one.attendees.values_list("student")) & set(other.attendees.values_list("student"))
    ]
    assert meets == []
    for week in drafts:
        publish(week)


def test_the_weeks_are_the_same_in_whatever_order_workers_take_turns(ground: Cast) -> None:
    first = started(ground)
    work_all()
    sessions = held(first)
    everybody_take_back(actor=ground.coordinator, plan=first)
    second = started(ground)
    work_all(newest_first=True)
    assert sessions
    assert held(second) == sessions


def test_a_lost_worker_loses_nothing(ground: Cast) -> None:
    """A worker is gone after it claimed a turn: the next one does it, and the week is the same."""
    first = started(ground)
    work_all()
    sessions = held(first)
    everybody_take_back(actor=ground.coordinator, plan=first)
    second = started(ground)
    lost = job_claim(job_id=waiting()[0].pk)
    assert lost is not None
    run = PlanRun.objects.get(job=lost.job_id)
    run.kept = {"weeks": {}, "at_hand": {"week": MONDAY.isoformat(), "seconds": 1.5, "sessions": []}}
    run.save()
    work_all()
    assert not everybody_get(ground.coordinator, second.pk).ended_at
    Job.objects.filter(pk=lost.job_id).update(state=Job.State.WAITING, lease_token=None, lease_until=None)
    work_all()
    assert everybody_get(ground.coordinator, second.pk).ended_at
    assert held(second) == sessions


def test_whoever_cant_be_planned_keeps_nobody_waiting(ground: Cast) -> None:
    """Missing hours are said at once; what fails on the way is said in its own words, and the next turn begins."""
    ContractDay.objects.filter(teacher=third_of(ground)).delete()
    plan = started(ground)
    first = EverybodyTurn.objects.filter(plan=plan, run__isnull=False).get()
    TeacherRules.objects.filter(teacher=first.teacher).delete()
    work_all()
    seen = turns(ground, plan)
    assert (seen["Third"].state, seen["Third"].message) == ("no_week", "No contract hours are entered.")
    [failed] = [one for one in seen.values() if one.teacher_id == first.teacher_id]
    assert failed.state == "no_week"
    assert "rules are missing" in failed.message
    [planned] = [one for one in seen.values() if one.week_id]
    assert planned.state == "planned"
    assert everybody_get(ground.coordinator, plan.pk).ended_at


def test_a_teachers_own_plan_under_way_is_left_alone(ground: Cast) -> None:
    own = plan_run_start(
        actor=ground.teacher, teacher=ground.teacher, first_date=MONDAY, last_date=date(4), time_limit=2, now=BEFORE
    )
    plan = started(ground, teachers=[ground.teacher])
    turn = turns(ground, plan)["Teacher"]
    assert turn.state == "no_week"
    assert turn.message.endswith("are being planned right now. Wait for that, or stop it.")
    run_job(own.job_id)
    with pytest.raises(ApplicationError):
        everybody_take_back(actor=ground.coordinator, plan=plan)
    assert WeekPlan.objects.filter(plan_run=own, status="draft").exists()


def test_stopping_leaves_out_who_hasnt_begun(ground: Cast) -> None:
    plan = started(ground)
    run_job(EverybodyTurn.objects.get(plan=plan, teacher=third_of(ground)).run.job_id)  # type: ignore[union-attr]
    plan = everybody_stop(actor=ground.coordinator, plan=plan)
    assert plan.ended_at is not None
    assert waiting() == []
    seen = turns(ground, plan)
    assert seen["Third"].state == "planned"
    assert sorted(one.state for one in seen.values()) == ["left_out", "no_week", "planned"]


def test_a_run_that_ends_elsewhere_is_gone_on_from(ground: Cast) -> None:
    """Somebody stops one teacher's run on its own page before it begins: regular work begins who waited."""
    plan = started(ground, teachers=[ground.teacher, ground.mate])
    [job] = waiting()
    job_stop_ask(job=job)
    assert waiting() == []
    everybody_go_on_due()
    work_all()
    assert sorted(one.state for one in turns(ground, plan).values()) == ["no_week", "planned"]


def test_taking_back_sets_drafts_aside_and_leaves_what_is_in_force(ground: Cast) -> None:
    plan = started(ground)
    with pytest.raises(ApplicationError) as caught:
        everybody_take_back(actor=ground.coordinator, plan=plan)
    assert caught.value.code == "under_way"
    work_all()
    publish(WeekPlan.objects.get(teacher=ground.teacher, status="draft"))
    assert everybody_take_back(actor=ground.coordinator, plan=plan) == 2
    assert WeekPlan.objects.filter(status="discarded").count() == 2
    assert WeekPlan.objects.get(teacher=ground.teacher).status == "published"
    with pytest.raises(ApplicationError) as caught:
        everybody_take_back(actor=ground.coordinator, plan=plan)
    assert caught.value.code == "nothing_to_take_back"


def test_what_is_refused(ground: Cast) -> None:
    idle = make_person(ground.district, "idle", Person.Role.TEACHER)
    for code, changed in (
        ("nobody", {"teachers": []}),
        ("nothing_owed", {"teachers": [ground.teacher, idle]}),
        ("nothing_owed", {"teachers": [ground.teacher, ground.stranger]}),
        ("week_begun", {"now": timezone.now()}),
        ("time_limit", {"time_limit": 61}),
    ):
        with pytest.raises(ApplicationError) as caught:
            started(ground, **changed)
        assert caught.value.code == code
    with pytest.raises(ApplicationError) as caught:
        everybody_start(actor=ground.teacher, teachers=[ground.teacher], monday=MONDAY, now=BEFORE)
    assert caught.value.code == "not_for_your_role"
    assert not EverybodyPlan.objects.exists()


def test_asking_again_gives_the_plan_under_way_and_another_week_is_refused(ground: Cast) -> None:
    first = started(ground)
    assert started(ground).pk == first.pk
    with pytest.raises(ApplicationError) as caught:
        started(ground, monday=date(7))
    assert caught.value.code == "under_way"


@pytest.mark.parametrize("other", ["teachers", "aim", "time_limit"])
def test_other_choices_for_the_week_under_way_are_refused_and_not_dropped(ground: Cast, other: str) -> None:
    plan = started(ground)
    changed = {"teachers": [ground.mate], "aim": Aim.LEAST_DRIVING, "time_limit": 3}[other]
    with pytest.raises(ApplicationError, match="planned right now with other choices"):
        started(ground, **{other: changed})
    assert EverybodyPlan.objects.get() == plan


def test_how_each_week_stands(ground: Cast) -> None:
    TeacherRules.objects.filter(teacher=ground.mate).delete()
    work = started(ground, teachers=[third_of(ground)])
    work_all()
    assert everybody_get(ground.coordinator, work.pk).ended_at
    rows = {one.teacher: one for one in teachers_standing(ground.coordinator, MONDAY)}
    assert {name: (one.status_label, one.lacks, one.shares_with) for name, one in rows.items()} == {
        "Mate Vey": ("Not planned", "Rules for lunch and preparation are missing.", ("Teacher Vey",)),
        "Teacher Vey": ("Not planned", "", ("Mate Vey",)),
        "Third Vey": ("Draft", "", ()),
    }


def test_an_unhurried_week_is_kept_in_full(ground: Cast) -> None:
    """The clock isn't what ends a turn: the job says so to the planner."""
    started(ground)
    assert all(job.payload["unhurried"] is True for job in waiting())


def test_a_claimed_turn_that_fails_is_told(ground: Cast) -> None:
    plan = started(ground, teachers=[ground.teacher])
    claim = job_claim(job_id=waiting()[0].pk)
    assert claim is not None
    ServiceLine.objects.filter(provider=ground.teacher).delete()
    run_claimed(claim)
    everybody_go_on_due()
    turn = turns(ground, plan)["Teacher"]
    assert turn.state == "no_week"
    assert turn.message


def test_questions_to_the_database_dont_grow_with_students(ground: Cast) -> None:
    """A student more of each teacher, in the one building or the other, and the list asks no more than before."""

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            teachers_standing(Person.objects.get(pk=ground.coordinator.pk), MONDAY)
        return len(queries)

    before = asked()
    for number, teacher in enumerate([ground.teacher, ground.mate, third_of(ground)]):
        make_line(ground, f"Q{number}", building=ground.south, teacher=teacher)
    assert asked() == before


def test_who_shares_with_many_is_told_by_number() -> None:
    assert few_words([]) == ""
    assert few_words(["Ada Vey", "Bo Tarn"]) == "Ada Vey and Bo Tarn"
    assert few_words(["Ada Vey", "Bo Tarn", "Cy Orne"]) == "Ada Vey and 2 more"


# ---- pages and API ---------------------------------------------------------------------------------------------


def test_the_page_proposes_who_has_no_week_in_force(ground: Cast) -> None:
    text = page(ground.coordinator, "everybody", week=str(MONDAY))
    assert text.count('name="teachers"') == 3
    assert text.count(" checked> ") == 3
    assert "Plan everybody" in page(ground.coordinator, "plan")
    page(ground.teacher, "everybody", status=403)


@pytest.mark.parametrize(("tick", "ticked"), [("all", 3), ("none", 0)])
def test_all_or_nobody_is_ticked_at_once(ground: Cast, tick: str, ticked: int) -> None:
    """All of those who can be planned: a teacher without contract hours isn't ticked."""
    assert page(ground.coordinator, "everybody", week=str(MONDAY), tick=tick).count(" checked> ") == ticked
    ContractDay.objects.filter(teacher=ground.mate).delete()
    without = max(0, ticked - 1)
    assert page(ground.coordinator, "everybody", week=str(MONDAY), tick=tick).count(" checked> ") == without


def test_the_page_shows_each_turn_and_takes_all_back(ground: Cast) -> None:
    plan = started(ground)
    text = page(ground.coordinator, "everybody_plan", plan.pk)
    assert "0 of 3 weeks are done." in text
    assert "Stop and keep what there is" in text
    work_all()
    text = page(ground.coordinator, "everybody_plan", plan.pk)
    assert "3 of 3 weeks are planned." in text
    client = client_of(ground.coordinator)
    answer = client.post(f"/everybody/{plan.pk}/take-back/", follow=True)
    assert "3 drafts are set aside." in answer.content.decode()
    answer = client.post(f"/everybody/{plan.pk}/stop/", follow=True)
    assert "The drafts were taken back" in answer.content.decode()


def test_a_post_without_teachers_says_so(ground: Cast) -> None:
    answer = client_of(ground.coordinator).post("/everybody/", {"monday": str(MONDAY), "time_limit": 5})
    assert answer.status_code == 422
    assert "Choose at least one teacher." in answer.content.decode()


def test_the_api_does_the_same(ground: Cast) -> None:
    api = Api(ground.coordinator)
    [first, *_] = api.get("everybody/standing/", monday=str(date(3)))
    assert (first["teacher"], first["students"], first["shares_with"]) == ("Mate Vey", 1, ["Teacher Vey"])
    plan = started(ground)
    assert api.get(f"everybody/{plan.pk}/")["teachers"] == 3
    assert api.get("everybody/")["results"][0]["ended_at"] is None
    work_all()
    assert api.get(f"everybody/{plan.pk}/")["planned"] == 3
    assert api.post(f"everybody/{plan.pk}/stop/", expect=200)["is_over"]
    assert api.post(f"everybody/{plan.pk}/take-back/", expect=200)["drafts"] == 0
    teachers = [ground.teacher.pk]
    answer = api.post("everybody/", expect=409, teachers=teachers, monday="2026-09-16")
    assert answer["code"] == "week_begun"
    Api(ground.teacher).get("everybody/", expect=403)


def test_drafts_hold_the_whole_week(ground: Cast) -> None:
    """What is owed is placed: two half hours for each line (the line's own words, 2 x 30)."""
    started(ground, teachers=[ground.mate])
    work_all()
    content = content_read(WeekPlan.objects.get(teacher=ground.mate, status="draft"))
    assert sum(one.end - one.start for one in content.sessions) >= 60
    assert not content.unplaced
