"""Runs of the planner, through the same job as the button's: drafts, the standing pattern, pins, stop, privacy."""

import datetime as dt
import json
import logging
import re
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.plans.models import ServiceLine, StudentHold
from caseload.plans.naming import unmarked
from jobs.context import JobContext
from jobs.models import Job
from jobs.runner import run_job
from jobs.services import job_claim, job_stop_ask
from schedule.calendar.models import SpaceFreeTime
from schedule.job_handlers import plan_week
from schedule.planner.check import check
from schedule.weeks.models import PlannedSession, PlanRun, UnplacedSession, WeekPlan
from schedule.weeks.planning.editing import edit_input
from schedule.weeks.planning.outcome import plan_of_content
from schedule.weeks.selectors.runs import latest_run, run_detail, run_get
from schedule.weeks.services.runs import plan_run_save, plan_run_start, plan_run_stop, plan_run_work
from schedule.weeks.services.weeks import week_publish, week_session_move, week_session_pin
from schedule.weeks.versions.content import content_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_cycle, make_entry, make_ground, make_line
from tests.schedule.runs import plan_now

WEEK = dt.timedelta(days=7)
FRIDAY = date(4)


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01 twice a week one to one, two students who can be joined, one in the south."""
    make_ground(cast)
    return [make_line(cast, "G1"), make_line(cast, "G2", grade="4"), make_line(cast, "F1", building=cast.south)]


def planned(cast: Cast, *, weeks: int = 1, first: dt.date = MONDAY, keep_pins: bool = True) -> PlanRun:
    return plan_now(cast.teacher, first, first + dt.timedelta(days=7 * weeks - 3), seconds=1, keep_pins=keep_pins)


def draft_of(run: PlanRun, monday: dt.date = MONDAY) -> WeekPlan:
    return WeekPlan.objects.get(plan_run=run, monday=monday)


def times_of(week: WeekPlan, line: ServiceLine) -> list[tuple[int, dt.time]]:
    rows = PlannedSession.objects.filter(week=week, attendees__service_line=line).order_by("date")
    return [(one.date.weekday(), one.start) for one in rows]


# ---- what a run makes ------------------------------------------------------------------------------------


def test_every_owed_minute_is_placed_and_judged(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = planned(cast)
    week = draft_of(run)
    assert run.job.state == Job.State.DONE
    assert not UnplacedSession.objects.filter(week=week).exists()
    served = {line.pk: len(times_of(week, line)) for line in [cast.line, *caseload]}
    assert served == {cast.line.pk: 2, caseload[0].pk: 1, caseload[1].pk: 1, caseload[2].pk: 1}
    content = content_read(week)
    loaded = edit_input(week, content)
    assert check(loaded.problem, plan_of_content(loaded, content)).violations == ()
    assert week.figures["minutes_owed"] == week.figures["minutes_placed"] == 150


def test_the_office_to_ask_is_named_with_its_phone(cast: Cast) -> None:
    """Two one-to-one services, one time at which the gym is free: the second waits for the office's word."""
    make_ground(cast)
    cast.north.office_contact, cast.north.office_phone = "Mrs. Quayle", "555-0143"
    cast.north.save()
    SpaceFreeTime.objects.create(space=cast.gym, days="Mon", start=at("9:20"), end=at("9:50"))
    ServiceLine.objects.filter(pk=cast.line.pk).update(times=1, statement="1 x 30 min/week")
    make_line(cast, "K1", setting="one_to_one", largest_group=1)
    planned(cast)
    [left] = UnplacedSession.objects.all()
    assert "Mrs. Quayle of North Hollow School (555-0143)" in left.ask
    assert "the office of" not in left.ask


def test_one_day_apart_one_to_one_sessions(cast: Cast, caseload: list[ServiceLine]) -> None:
    days = [day for day, _ in times_of(draft_of(planned(cast)), cast.line)]
    assert len(set(days)) == 2


def test_what_finds_no_place_says_why_and_whom_to_ask(cast: Cast, caseload: list[ServiceLine]) -> None:
    for period in ("1", "2", "3", "4", "5", "6"):
        StudentHold.objects.create(student=caseload[0].student, reason="pt", period=period)
    run = planned(cast)
    row = UnplacedSession.objects.get(week=draft_of(run))
    assert (row.service_line, row.minutes) == (caseload[0], 30)
    assert row.reasons
    assert all(isinstance(one, str) and one.strip() for one in row.reasons)


def test_the_standing_pattern_holds_in_the_second_week(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = planned(cast, weeks=2)
    first, second = draft_of(run), draft_of(run, MONDAY + WEEK)
    for line in [cast.line, *caseload]:
        assert times_of(first, line) == times_of(second, line)
    assert next(one["value"] for one in second.figures["goals"] if one["goal"] == "change") == 0


def test_the_pattern_follows_a_published_week(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Moved by hand to an hour that no search would choose, and kept there the week after."""
    week = draft_of(planned(cast))
    session = PlannedSession.objects.get(week=week, attendees__service_line=caseload[2])
    week = week_session_move(
        actor=cast.teacher, week=week, uid=session.uid, date=date(4), start=at("12:40"), expected_revision=1
    )
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    following = draft_of(planned(cast, first=MONDAY + WEEK), MONDAY + WEEK)
    assert times_of(following, caseload[2]) == [(4, at("12:40"))]


def test_the_pattern_follows_the_cycle_day(cast: Cast, caseload: list[ServiceLine]) -> None:
    """With six cycle days and a closure, Day 2 of the next turn is not on the weekday of the first."""
    make_cycle(cast.north)
    run = planned(cast, weeks=2)
    first, second = draft_of(run), draft_of(run, MONDAY + WEEK)

    def by_label(week: WeekPlan) -> dict[str, dt.time]:
        rows = PlannedSession.objects.filter(week=week, attendees__service_line=cast.line)
        return {one.cycle_day: one.start for one in rows}

    # Days 1 to 5 in the first week, Day 6 and then Days 1 to 4 in the second.
    assert set(by_label(first)) <= {f"Day {n}" for n in range(1, 6)}
    shared = set(by_label(first)) - {"Day 5"}
    assert shared
    assert {label: by_label(second)[label] for label in shared} == {
        label: by_label(first)[label] for label in shared
    }


def test_weeks_without_school_are_passed_over_and_said(cast: Cast, caseload: list[ServiceLine]) -> None:
    for n in range(5):
        make_entry(cast, date(n), "closed")
    run = planned(cast, weeks=2)
    assert [week.monday for week in run.weeks.all()] == [MONDAY + WEEK]
    assert any("there is no school day" in note for note in run.summary["notes"])


def test_what_is_to_be_known_of_the_drives_is_said_once_on_the_run(cast: Cast, caseload: list[ServiceLine]) -> None:
    """0.0001 degrees of latitude are 11 meters: one of the two schools has the other's coordinates."""
    cast.south.latitude, cast.south.longitude = Decimal("43.1001"), Decimal("-75.20")
    cast.south.save()
    run = planned(cast, weeks=2)
    [note] = run.summary["notes"]
    assert "are at the same place" in note
    said = StringIO()
    call_command("plan_week", teacher="teacher", monday=MONDAY, time_limit=1, stdout=StringIO(), stderr=said)
    assert note in said.getvalue()


def test_planning_from_wednesday_leaves_what_was_before(cast: Cast, caseload: list[ServiceLine]) -> None:
    """A student who comes on Wednesday moves nothing that was in force on Monday and Tuesday."""
    first = draft_of(planned(cast))
    week_publish(actor=cast.teacher, week=first, expected_revision=1)
    new = make_line(cast, "N1", building=cast.south)
    run = plan_now(cast.teacher, date(2), FRIDAY, seconds=1)
    second = draft_of(run)

    def early(week: WeekPlan) -> set[tuple[dt.date, dt.time, int]]:
        rows = PlannedSession.objects.filter(week=week, date__lt=date(2))
        return {(one.date, one.start, one.building_id) for one in rows}

    assert early(second) == early(first) != set()
    assert [day >= 2 for day, _ in times_of(second, new)] == [True]
    assert not PlannedSession.objects.filter(week=second, pinned=True).exists()


def test_a_first_week_from_wednesday_has_no_days_before(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = plan_now(cast.teacher, date(2), FRIDAY, seconds=1)
    week = draft_of(run)
    assert not week.items.filter(date__lt=date(2)).exists()
    assert {one.date >= date(2) for one in week.sessions.all()} == {True}
    proved = week.figures["goals"]
    published = week_publish(actor=cast.teacher, week=week, expected_revision=1)
    assert published.figures["goals"] == proved


def test_planning_again_keeps_pins(cast: Cast, caseload: list[ServiceLine]) -> None:
    week = draft_of(planned(cast))
    session = PlannedSession.objects.get(week=week, attendees__service_line=caseload[2])
    week = week_session_move(
        actor=cast.teacher, week=week, uid=session.uid, date=date(4), start=at("12:40"), expected_revision=1
    )
    week = week_session_pin(
        actor=cast.teacher, week=week, uid=session.uid, pinned=True, expected_revision=week.revision
    )
    again = draft_of(planned(cast))
    assert again.pk != week.pk
    assert times_of(again, caseload[2]) == [(4, at("12:40"))]
    assert PlannedSession.objects.get(week=again, attendees__service_line=caseload[2]).pinned


def test_a_pin_that_can_no_longer_hold_is_said(cast: Cast, caseload: list[ServiceLine]) -> None:
    week = draft_of(planned(cast))
    session = PlannedSession.objects.get(week=week, attendees__service_line=caseload[2])
    week_session_pin(actor=cast.teacher, week=week, uid=session.uid, pinned=True, expected_revision=1)
    make_entry(cast, session.date, "closed", cast.south)
    again = draft_of(planned(cast))
    assert any("F1" in note and "can't stay pinned" in note for note in again.figures["notes"])
    assert len(times_of(again, caseload[2])) == 1


def test_sessions_keep_their_uid_from_the_week_in_force(cast: Cast, caseload: list[ServiceLine]) -> None:
    first = draft_of(planned(cast))
    week_publish(actor=cast.teacher, week=first, expected_revision=1)
    second = draft_of(planned(cast))
    assert {one.uid for one in second.sessions.all()} == {one.uid for one in first.sessions.all()}


# ---- the job ---------------------------------------------------------------------------------------------


def started(cast: Cast, last_date: dt.date = FRIDAY) -> PlanRun:
    return plan_run_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=last_date, time_limit=1
    )


def test_pressing_twice_gives_the_same_run(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = started(cast)
    assert started(cast) == run
    assert Job.objects.count() == PlanRun.objects.count() == 1
    with pytest.raises(ApplicationError) as caught:
        started(cast, last_date=date(11))
    assert caught.value.code == "run_under_way"
    run_job(run.job_id)
    assert started(cast) != run


def test_a_job_that_is_done_again_leaves_one_set_of_drafts(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = started(cast)
    for _ in range(2):
        found = plan_run_work(run=run, report=lambda progress: None, stop_asked=lambda: False)
        plan_run_save(run=run, found=found)
    assert run.weeks.count() == 1
    assert PlannedSession.objects.filter(week__plan_run=run).count() == draft_of(run).figures["sessions"]


def test_a_stop_in_the_middle_keeps_the_weeks_so_far(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = started(cast, last_date=date(18))
    claim = job_claim(job_id=run.job_id)
    assert claim is not None
    context = JobContext(claim)
    reported: list[str] = []

    class Stopping(JobContext):
        """Somebody presses stop when the second week is begun."""

        def report(self, progress: object) -> None:
            assert isinstance(progress, dict)
            reported.append(progress["week"])
            if progress["week_number"] == 2:
                job_stop_ask(job=run.job)
            context.report(progress)

    plan_week(Stopping(claim))
    run.job.refresh_from_db()
    assert run.job.state == Job.State.STOPPED
    assert MONDAY.isoformat() in reported
    assert MONDAY in {week.monday for week in run.weeks.all()}
    assert MONDAY + 2 * WEEK not in {week.monday for week in run.weeks.all()}


def test_progress_is_shown_while_it_runs_and_after(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = started(cast)
    said: list[dict[str, object]] = []
    plan_run_work(run=run, report=lambda progress: said.append(dict(progress)), stop_asked=lambda: False)
    assert {"week", "stage", "message", "figures", "elapsed", "percent"} <= set(said[0])
    assert any(one["figures"] for one in said)
    # Whoever waits reads words; the search's own line is kept beside them for the terminal.
    assert any(one["technical"] == f"Week of {MONDAY}, first plan: first plan, checked" for one in said)
    assert any(str(one["message"]).startswith("Everything is placed.") for one in said)
    assert not [one["message"] for one in said if re.search(r"\bbound\b|\bround \d", str(one["message"]))]
    percents = [one["percent"] for one in said]
    assert all(isinstance(one, int) and 0 <= one <= 100 for one in percents)
    run_job(run.job_id)
    view = run_detail(cast.teacher, run)
    assert (view.state, view.percent, view.is_over, len(view.weeks)) == ("done", 100, True, 1)
    assert view.message == "1 week is planned."


@pytest.mark.parametrize(
    ("first", "last", "limit", "code"),
    [
        (date(4), date(0), 5, "dates_swapped"),
        (date(0), date(4), 0, "time_limit"),
        (date(0), date(200), 60, "too_many_weeks"),
        (dt.date(2030, 1, 7), dt.date(2030, 1, 11), 5, "no_school_year"),
    ],
)
def test_what_cannot_be_planned_is_said_before_it_is_queued(
    cast: Cast, caseload: list[ServiceLine], first: dt.date, last: dt.date, limit: int, code: str
) -> None:
    with pytest.raises(ApplicationError) as caught:
        plan_run_start(actor=cast.teacher, teacher=cast.teacher, first_date=first, last_date=last, time_limit=limit)
    assert caught.value.code == code
    assert not Job.objects.exists()


def test_a_fault_found_later_ends_the_job_with_a_sentence(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = started(cast)
    cast.south.latitude = cast.south.longitude = None
    cast.south.save()
    run_job(run.job_id)
    view = run_detail(cast.teacher, run)
    assert view.state == "failed"
    assert "South Hollow School has no coordinates" in view.error
    assert view.weeks == ()


# ---- who may, and what is told ---------------------------------------------------------------------------


def test_only_the_teacher_and_the_coordinator_plan(cast: Cast, caseload: list[ServiceLine]) -> None:
    for who in (cast.stranger, cast.mate, cast.office, cast.substitute):
        with pytest.raises(ApplicationError) as caught:
            plan_run_start(actor=who, teacher=cast.teacher, first_date=MONDAY, last_date=date(4))
        assert caught.value.status == 404
    run = plan_run_start(actor=cast.coordinator, teacher=cast.teacher, first_date=MONDAY, last_date=date(4))
    for who in (cast.stranger, cast.mate, cast.office, cast.substitute):
        with pytest.raises(ApplicationError) as caught:
            run_get(who, run.pk)
        assert caught.value.status == 404
        with pytest.raises(ApplicationError):
            plan_run_stop(actor=who, run=run)
        assert latest_run(who, cast.teacher) is None
    assert latest_run(cast.teacher, cast.teacher) == run
    assert plan_run_stop(actor=cast.teacher, run=run).job.state == Job.State.STOPPED


def test_no_name_in_job_figures_or_logs(
    cast: Cast, caseload: list[ServiceLine], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    make_line(cast, "G3", grade="4")
    for period in ("1", "2", "3", "4", "5", "6"):
        StudentHold.objects.create(student=caseload[0].student, reason="speech", period=period)
    run = planned(cast)
    job = run.job
    week = draft_of(run)
    kept = [
        job.payload,
        job.progress,
        job.error,
        run.summary,
        week.figures,
        [[one.reasons, one.ask] for one in UnplacedSession.objects.all()],
        [one.changes for one in AuditEntry.objects.all()],
    ]
    text = unmarked(json.dumps(kept, default=str, ensure_ascii=False)) + caplog.text + str(run) + str(week)
    names = {"Ilsabet", "Quernmore-G1", "Quernmore-G2", "Quernmore-F1", "Ola", "Tarn S01"}
    students = {(row.first_name, row.last_name) for row in type(cast.student).objects.all()}
    assert names <= {name for pair in students for name in pair}
    assert [name for name in names if name in text] == []
    # The text that was searched does speak of students: by their codes.
    assert "G2 + G3 are taken together" in text
