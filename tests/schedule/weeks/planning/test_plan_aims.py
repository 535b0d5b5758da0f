"""Usual times or little driving: the choice in a run, on the page and in the API, with what the other one gives."""

import datetime as dt
import json
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.plans.models import ServiceLine
from jobs.runner import run_job
from schedule.calendar.models import DayRotation
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, school_year_of
from schedule.planner.problem import DRIVING_FIRST, USUAL_TIMES_FIRST
from schedule.weeks.aims import Aim, aimed_week
from schedule.weeks.models import PlannedSession, PlanRun, WeekPlan
from schedule.weeks.selectors.runs import run_detail
from schedule.weeks.services.runs import plan_run_start
from schedule.weeks.services.weeks import week_publish, week_session_move
from schedule.weeks.versions.history import WeekBefore, standing_pattern, weeks_before
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line
from tests.schedule.runs import plan_now

WEEK = dt.timedelta(days=7)


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01 twice a week one to one, one more in the north, two in the south."""
    make_ground(cast)
    return [make_line(cast, "G1"), make_line(cast, "F1", building=cast.south)]


def planned(cast: Cast, monday: dt.date, aim: Aim = Aim.USUAL_TIMES, seconds: int = 90) -> PlanRun:
    return plan_now(cast.teacher, monday, monday + dt.timedelta(days=4), seconds=seconds, aim=aim)


def published(cast: Cast, run: PlanRun) -> WeekPlan:
    week = WeekPlan.objects.get(plan_run=run)
    return week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)


def moved(cast: Cast, week: WeekPlan, line: ServiceLine, day: dt.date, time: str) -> WeekPlan:
    session = PlannedSession.objects.get(week=week, attendees__service_line=line)
    return week_session_move(
        actor=cast.teacher,
        week=week,
        uid=session.uid,
        date=day,
        start=at(time),
        expected_revision=week.revision,
    )


def times_of(run: PlanRun, line: ServiceLine) -> list[tuple[int, dt.time]]:
    rows = PlannedSession.objects.filter(week__plan_run=run, attendees__service_line=line).order_by("date")
    return [(one.date.weekday(), one.start) for one in rows]


@pytest.fixture
def scattered(cast: Cast, caseload: list[ServiceLine]) -> list[ServiceLine]:
    """A week in force in which the session in the south was moved to a day in the north: a drive there and back."""
    run = planned(cast, MONDAY)
    week = WeekPlan.objects.get(plan_run=run)
    north = {day for line in (cast.line, caseload[0]) for day, _ in times_of(run, line)}
    assert north
    week = moved(cast, week, caseload[1], date(min(north)), "12:40")
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    return caseload


# ---- the two choices -------------------------------------------------------------------------------------


def test_each_choice_tells_truly_what_the_other_one_gives(cast: Cast, scattered: list[ServiceLine]) -> None:
    """Found within the one run, and the same as a run by the other choice finds."""
    [usual] = run_detail(cast.teacher, planned(cast, MONDAY + WEEK)).aims
    [least] = run_detail(cast.teacher, planned(cast, MONDAY + WEEK, Aim.LEAST_DRIVING)).aims
    assert (usual.other_known, least.other_known, usual.proved, least.proved) == ("proved", "proved", True, True)
    assert (usual.other_kept, usual.other_drive_minutes) == (least.kept, least.drive_minutes)
    assert (least.other_kept, least.other_drive_minutes) == (usual.kept, usual.drive_minutes)
    assert usual.kept == usual.sessions == 4
    assert least.kept < usual.kept
    assert least.drive_minutes < usual.drive_minutes


def test_goals_stand_in_the_order_of_the_choice_and_are_proved(cast: Cast, scattered: list[ServiceLine]) -> None:
    for aim, order in ((Aim.USUAL_TIMES, USUAL_TIMES_FIRST), (Aim.LEAST_DRIVING, DRIVING_FIRST)):
        week = WeekPlan.objects.get(plan_run=planned(cast, MONDAY + WEEK, aim))
        goals = [(one["goal"], one["status"]) for one in week.figures["goals"]]
        assert [goal for goal, _ in goals] == list(order)
        assert {status for goal, status in goals if goal in {"change", "driving"}} == {"optimal"}


def test_a_first_week_has_nothing_to_keep(cast: Cast, caseload: list[ServiceLine]) -> None:
    [week] = run_detail(cast.teacher, planned(cast, MONDAY)).aims
    assert (week.against, week.sessions, week.other_known) == ("nothing", 0, "no_difference")
    assert week.sentences[1] == "“Drive least” would plan the same week."


def test_planning_a_week_in_force_again_is_held_against_itself(cast: Cast, scattered: list[ServiceLine]) -> None:
    [week] = run_detail(cast.teacher, planned(cast, MONDAY)).aims
    assert (week.against, week.kept, week.sessions) == ("in_force", 4, 4)
    assert "4 of 4 sessions stay as in the week in force" in week.sentences[0]


# ---- which week it is compared with ----------------------------------------------------------------------


def test_an_a_week_keeps_the_times_of_the_last_a_week(cast: Cast, caseload: list[ServiceLine]) -> None:
    """The south counts A and B weeks; in the B week its session is held at another hour."""
    DayRotation.objects.create(building=cast.south, kind="ab_weeks", anchor_date=MONDAY, anchor_label="A")
    south = caseload[1]
    first = WeekPlan.objects.get(plan_run=planned(cast, MONDAY))
    a_week = moved(cast, first, south, date(4), "12:40")
    week_publish(actor=cast.teacher, week=a_week, expected_revision=a_week.revision)
    run = planned(cast, MONDAY + WEEK)
    # No B week was planned yet, so the A week stands in.
    assert times_of(run, south) == [(4, at("12:40"))]
    b_week = moved(cast, WeekPlan.objects.get(plan_run=run), south, date(7), "12:40")
    week_publish(actor=cast.teacher, week=b_week, expected_revision=b_week.revision)
    assert times_of(planned(cast, MONDAY + 2 * WEEK), south) == [(4, at("12:40"))]
    third = published(cast, planned(cast, MONDAY + 2 * WEEK))
    assert third.monday == MONDAY + 2 * WEEK
    assert times_of(planned(cast, MONDAY + 3 * WEEK), south) == [(0, at("12:40"))]


def test_weeks_of_last_year_count_only_until_this_year_has_one(cast: Cast, caseload: list[ServiceLine]) -> None:
    published(cast, planned(cast, MONDAY))
    year = school_year_of(cast.district, MONDAY, MONDAY)
    calendars = load_calendars(cast.district, [cast.north, cast.south], year)
    [this_year] = weeks_before(cast.teacher, MONDAY + WEEK, {})
    old = MONDAY - 20 * WEEK
    assert old + WEEK < year.first_day
    last_year = WeekBefore(old, this_year.dates, this_year.sessions)

    def compared(*weeks: WeekBefore) -> int:
        return len(standing_pattern(weeks, MONDAY + WEEK, calendars, lambda one: map(str, one.lines)))

    assert compared(this_year, last_year) == compared(this_year) == compared(last_year) == 4
    empty = WeekBefore(MONDAY, this_year.dates, ())
    assert compared(empty, last_year) == 0
    assert isinstance(calendars[cast.north.pk], BuildingCalendar)


# ---- asked for, kept, shown ------------------------------------------------------------------------------


def test_the_choice_is_kept_with_the_run(cast: Cast, caseload: list[ServiceLine]) -> None:
    run = planned(cast, MONDAY, Aim.LEAST_DRIVING)
    view = run_detail(cast.coordinator, run)
    assert (run.aim, view.aim, view.aim_label) == ("least_driving", "least_driving", "Drive least")
    assert AuditEntry.objects.get(action="plan_run_start").changes["aim"] == [None, "least_driving"]
    assert plan_now(cast.teacher, MONDAY, date(4), seconds=1).aim == "usual_times"


def test_the_same_dates_by_the_other_choice_wait_for_the_run_under_way(
    cast: Cast, caseload: list[ServiceLine]
) -> None:
    def start(aim: Aim) -> PlanRun:
        return plan_run_start(
            actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(4), aim=aim
        )

    run = start(Aim.USUAL_TIMES)
    assert start(Aim.USUAL_TIMES) == run
    with pytest.raises(ApplicationError) as caught:
        start(Aim.LEAST_DRIVING)
    assert caught.value.code == "run_under_way"
    assert "are being planned right now by “Keep usual times”." in caught.value.message


def test_the_page_asks_in_words_and_tells_what_the_other_choice_gives(
    cast: Cast, scattered: list[ServiceLine]
) -> None:
    client = Client()
    client.force_login(cast.teacher)
    form = client.get(reverse("plan")).content.decode()
    assert "Keep usual times" in form
    assert "Drive least" in form
    dates = {"first_date": MONDAY + WEEK, "last_date": MONDAY + WEEK + dt.timedelta(days=4)}
    values = {**dates, "time_limit": 20, "keep_pins": "on"}
    unasked = client.post(reverse("plan"), values)
    assert (unasked.status_code, PlanRun.objects.count()) == (422, 1)
    assert client.post(reverse("plan"), {**values, "aim": "fastest"}).status_code == 422
    assert client.post(reverse("plan"), {**values, "aim": "least_driving"}).status_code == 302
    started = PlanRun.objects.latest("pk")
    assert started.aim == "least_driving"
    run_job(started.job_id)
    page = client.get(reverse("plan_run", args=[started.pk])).content.decode()
    [week] = run_detail(cast.teacher, started).aims
    assert [sentence for sentence in week.sentences if sentence not in page] == []


def test_the_api_takes_the_choice_and_answers_with_both(cast: Cast, scattered: list[ServiceLine]) -> None:
    api = Api(cast.teacher)
    dates = {"first_date": str(MONDAY + WEEK), "last_date": str(MONDAY + WEEK + dt.timedelta(days=4))}
    error = api.post("plan-runs/", 400, **dates, aim="fastest")
    assert "aim" in error["fields"]
    assert PlanRun.objects.count() == 1
    run = api.post("plan-runs/", 201, **dates, aim="least_driving", time_limit=20)
    assert (run["aim"], run["aim_label"], run["aims"]) == ("least_driving", "Drive least", [])
    api.post(f"plan-runs/{run['run_id']}/stop/", 200)
    done = planned(cast, MONDAY + WEEK)
    [week] = api.get(f"plan-runs/{done.pk}/")["aims"]
    assert (week["aim"], week["kept"], week["sessions"]) == ("usual_times", 4, 4)
    assert week["other_known"] == "proved"
    assert week["other_drive_minutes"] < week["drive_minutes"]


def test_the_command_takes_the_choice_and_prints_both(cast: Cast, scattered: list[ServiceLine]) -> None:
    said = StringIO()
    monday = str(MONDAY + WEEK)
    call_command("plan_week", teacher=cast.teacher.username, monday=dt.date.fromisoformat(monday), stdout=said,
                 stderr=StringIO(), draft=True, aim="least_driving")  # fmt: skip
    run = PlanRun.objects.latest("pk")
    [week] = run_detail(cast.teacher, run).aims
    assert run.aim == "least_driving"
    assert all(sentence in said.getvalue() for sentence in week.sentences)
    notes = WeekPlan.objects.get(plan_run=run).figures["notes"]
    assert list(week.sentences) == notes[:2]
    names = [cast.student.first_name, "Quernmore"]
    assert not [name for name in names if name in json.dumps(run.summary)]


# ---- the words -------------------------------------------------------------------------------------------

FIGURES = {
    "aim": "usual_times",
    "against": "usual",
    "sessions": 45,
    "kept": 30,
    "drive_minutes": 193,
    "proved": True,
    "other_known": "proved",
    "other_kept": 15,
    "other_drive_minutes": 143,
}


def words(**changes: object) -> tuple[str, ...]:
    return aimed_week(MONDAY, {**FIGURES, **changes}).sentences


def test_both_choices_in_words() -> None:
    assert words() == (
        "Planned by “Keep usual times”: 30 of 45 sessions keep their usual day and time, 193 minutes at the wheel.",
        "“Drive least” would keep 15 and take 143 minutes at the wheel, 50 fewer.",
    )


def test_what_is_not_known_is_not_said() -> None:
    unknown = words(other_known="not_worked_out", other_kept=None, other_drive_minutes=None)[1]
    assert "was not worked out" in unknown
    assert not any(letter.isdigit() for letter in unknown)
    assert words(proved=False)[0].endswith("A better week may exist: the search used all of its time.")
    found = words(other_known="found")[1]
    assert found.endswith("It may find a better one.")
    assert "found in the time" in found


def test_one_and_none_are_said_as_people_do() -> None:
    [mine, other] = words(sessions=1, kept=1, drive_minutes=1, other_kept=0, other_drive_minutes=1)
    assert "1 of 1 session keeps its usual day and time, 1 minute at the wheel" in mine
    assert other == "“Drive least” would keep 0 and take 1 minute at the wheel, the same."
