"""A term from asking to a timetable in force: weeks held together, exceptions with reasons, taken back whole."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from caseload.plans.models import ServiceLine
from caseload.plans.services.changes import service_change
from jobs.models import Job
from jobs.runner import run_job
from schedule.calendar.models import DayRotation
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import gives_way_to, term_detail, term_get
from schedule.terms.services.plans import term_plan_start
from schedule.terms.services.publishing import standing_publish, term_publish, term_take_back
from schedule.weeks.models import PlannedSession, TimetableSession, TimetableVersion, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_cycle, make_entry, make_ground, make_line, make_week

WEEK = dt.timedelta(weeks=1)
Status = WeekPlan.Status


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01 twice a week one to one, one more in the north, one in the south."""
    make_ground(cast)
    return [make_line(cast, "G1"), make_line(cast, "F1", building=cast.south)]


def planned(cast: Cast, *, weeks: int = 3, first: dt.date = MONDAY, worth: int = 60) -> TermPlan:
    """A term of so many weeks, planned by its job."""
    last = first + weeks * WEEK - dt.timedelta(days=3)
    term = term_plan_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=first, last_date=last, worth=worth, time_limit=20
    )
    run_job(term.run.job_id)
    return term_get(cast.teacher, term.pk)


def moments(week: WeekPlan) -> set[tuple[str, int, dt.time]]:
    """Unit, weekday and time of each session."""
    return {(one.planner_key, one.date.weekday(), one.start) for one in week.sessions.all()}


def drafts(term: TermPlan) -> list[WeekPlan]:
    return list(WeekPlan.objects.filter(plan_run=term.run, status=Status.DRAFT).order_by("monday"))


def test_plain_weeks_of_a_term_are_one_and_the_same(cast: Cast, caseload: list[ServiceLine]) -> None:
    term = planned(cast)
    assert term.run.job.state == Job.State.DONE
    assert [week.monday for week in drafts(term)] == [MONDAY, MONDAY + WEEK, MONDAY + 2 * WEEK]
    first, *others = [moments(week) for week in drafts(term)]
    assert len(first) == 4, "S01 twice, and each of the others once"
    assert others == [first, first]
    view = term_detail(cast.teacher, term)
    assert (view.kept, view.open, view.sessions, view.exceptions) == (12, 12, 12, 0)
    assert (view.minutes_placed, view.minutes_owed) == (3 * 120, 3 * 120)
    assert view.state == "draft"
    assert {(one.stands, one.weeks) for one in view.standing} == {(3, 3)}
    assert [(one.kind, one.weeks) for one in view.kinds] == [("Every week", 3)]
    assert all(side.kept == side.of for side in view.sides if side.side != "spread")


def test_a_closed_day_is_an_exception_of_one_week(cast: Cast, caseload: list[ServiceLine]) -> None:
    plain = planned(cast)
    days = sorted({one.date.weekday() for one in drafts(plain)[0].sessions.all()})
    make_entry(cast, MONDAY + WEEK + dt.timedelta(days=days[0]), "closed")
    term = planned(cast)
    first, second, third = (moments(week) for week in drafts(term))
    assert first == third
    lost = {one for one in first if one[1] == days[0]}
    assert lost
    assert lost & second == set()
    view = term_detail(cast.teacher, term)
    assert [bool(week.exceptions) for week in view.weeks] == [False, True, False]
    assert len(view.weeks[1].exceptions) >= len(lost)
    assert sum(one.away for one in view.standing) == len(view.weeks[1].exceptions)
    assert drafts(term)[1].figures["notes"], "the week tells its exceptions too"


def test_a_rotation_keeps_its_cycle_day(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Six days in the north: its sessions stand on cycle days, and fall on other weekdays from week to week."""
    make_cycle(cast.north)
    term = planned(cast, weeks=4)
    rows = TimetableSession.objects.filter(timetable=term.standing, building=cast.north)
    assert rows
    assert all(one.cycle_day.startswith("Day ") and one.weekday is None for one in rows)
    view = term_detail(cast.teacher, term)
    assert {one.kind for one in view.kinds} == {"Every week"}
    assert {one.turn for one in view.kinds} == {f"begins on Day {n}" for n in (1, 6, 5, 4)}


def test_a_and_b_weeks_stand_apart(cast: Cast, caseload: list[ServiceLine]) -> None:
    DayRotation.objects.create(building=cast.north, kind="ab_weeks", length=2, anchor_date=MONDAY)
    term = planned(cast, weeks=4)
    rows = TimetableSession.objects.filter(timetable=term.standing, building=cast.north)
    assert {one.cycle_day for one in rows} == {"A", "B"}
    assert all(one.weekday is not None for one in rows)
    assert [(one.kind, one.weeks) for one in term_detail(cast.teacher, term).kinds] == [
        ("A weeks", 2),
        ("B weeks", 2),
    ]


def test_publishing_puts_timetable_and_weeks_in_force(cast: Cast, caseload: list[ServiceLine]) -> None:
    term = planned(cast)
    done = term_publish(actor=cast.teacher, term=term)
    assert (done.weeks, done.refused) == (3, ())
    assert drafts(term) == []
    assert WeekPlan.objects.filter(plan_run=term.run, status=Status.PUBLISHED).count() == 3
    assert term_detail(cast.teacher, term).state == "in_force"


def test_a_week_that_is_refused_stays_a_draft_and_is_told(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Since it was planned, a mate's week has taken one of its students."""
    term = planned(cast)
    second = drafts(term)[1]
    second.figures["broken"] = ["x"]
    make_entry(cast, second.sessions.first().date, "closed")  # type: ignore[union-attr]
    done = term_publish(actor=cast.teacher, term=term)
    assert done.weeks == 2
    [refused] = done.refused
    assert refused.startswith("The week of September 21, 2026: ")
    assert [week.monday for week in drafts(term)] == [MONDAY + WEEK]


def test_a_week_is_compared_with_the_timetable_in_force(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Also where the week before was changed by hand; what the timetable doesn't know goes by the weeks before."""
    term = planned(cast)
    standing_publish(actor=cast.teacher, term=term)
    usual = {
        (one.planner_key, one.weekday, one.start.hour * 60 + one.start.minute)
        for one in TimetableSession.objects.filter(timetable=term.standing)
    }
    loaded = load_week(cast.teacher, MONDAY + WEEK)
    current = {(one.unit, dt.date.fromisoformat(one.day).weekday(), one.at) for one in loaded.problem.current or ()}
    assert current == usual
    assert load_week(cast.teacher, MONDAY + 4 * WEEK).problem.current is None, "the term is over by then"


def test_taking_back_leaves_weeks_as_they_were(cast: Cast, caseload: list[ServiceLine]) -> None:
    """The first week has begun and stays; the second was something else before; the third was nothing."""
    own = f"line-{cast.line.pk}"
    before = make_week(cast, [(own, date(7), "9:20"), (own, date(9), "9:20")], monday=MONDAY + WEEK)
    week_publish(actor=cast.teacher, week=before, expected_revision=before.revision)
    term = planned(cast)
    term_publish(actor=cast.teacher, term=term)
    done = term_take_back(actor=cast.teacher, term=term, today=MONDAY)
    assert (done.restored, done.emptied, done.stayed) == (1, 1, ("the week of September 14, 2026",))
    in_force = WeekPlan.objects.filter(teacher=cast.teacher, status=Status.PUBLISHED).order_by("monday")
    assert [week.monday for week in in_force] == [MONDAY, MONDAY + WEEK]
    assert moments(in_force[1]) == moments(before)
    assert TimetableVersion.objects.get(term=term).taken_back_by == cast.teacher
    assert load_week(cast.teacher, MONDAY + 2 * WEEK).problem.current is not None, (
        "the weeks before are compared with"
    )
    term = term_get(cast.teacher, term.pk)
    assert [week.monday for week in drafts(term)] == [MONDAY + WEEK, MONDAY + 2 * WEEK]
    again = term_publish(actor=cast.teacher, term=term)
    assert again.weeks == 2
    assert term_detail(cast.teacher, term).state == "in_force"


def test_terms_over_each_other_are_taken_back_one_after_the_other(cast: Cast, caseload: list[ServiceLine]) -> None:
    """The second term gives its weeks back to the first, which takes them along when it is taken back itself."""
    first = planned(cast, weeks=2)
    term_publish(actor=cast.teacher, term=first)
    second = planned(cast, weeks=2)
    term_publish(actor=cast.teacher, term=second)
    assert gives_way_to(cast.teacher, term_get(cast.teacher, first.pk)) == second
    assert gives_way_to(cast.teacher, term_get(cast.teacher, second.pk)) is None
    early = MONDAY - WEEK
    assert term_take_back(actor=cast.teacher, term=second, today=early).restored == 2
    assert [week.status for week in term_detail(cast.teacher, first).weeks] == ["published"] * 2
    assert gives_way_to(cast.teacher, term_get(cast.teacher, first.pk)) is None
    done = term_take_back(actor=cast.teacher, term=first, today=early)
    assert (done.restored, done.emptied) == (0, 2), "nothing was in force before the first"
    assert not WeekPlan.objects.filter(teacher=cast.teacher, status=Status.PUBLISHED).exists()
    # Published once more, the second has nothing before it anymore.
    term_publish(actor=cast.teacher, term=second)
    assert term_take_back(actor=cast.teacher, term=second, today=early).emptied == 2


def test_what_is_not_in_force_is_not_taken_back(cast: Cast, caseload: list[ServiceLine]) -> None:
    term = planned(cast, weeks=1)
    with pytest.raises(ApplicationError) as refused:
        term_take_back(actor=cast.teacher, term=term, today=MONDAY)
    assert refused.value.code == "not_in_force"


def test_pressing_twice_gives_the_same_plan_and_other_dates_are_refused(
    cast: Cast, caseload: list[ServiceLine]
) -> None:
    asked = {"actor": cast.teacher, "teacher": cast.teacher, "first_date": MONDAY}
    one = term_plan_start(**asked, last_date=date(18))  # type: ignore[arg-type]
    assert term_plan_start(**asked, last_date=date(18)) == one  # type: ignore[arg-type]
    with pytest.raises(ApplicationError) as refused:
        term_plan_start(**asked, last_date=date(25))  # type: ignore[arg-type]
    assert refused.value.code == "run_under_way"


def test_a_service_that_changes_keeps_its_time(cast: Cast, caseload: list[ServiceLine]) -> None:
    """From the third week on it is owed under other terms: a new version, and the same place in the week."""
    values = {"statement": "1 x 30 min/week", "times": 1}
    later = service_change(actor=cast.teacher, row=cast.line, from_day=MONDAY + 2 * WEEK, values=values, seen=None)
    assert later.pk != cast.line.pk
    term = planned(cast)
    own = TimetableSession.objects.filter(timetable=term.standing, planner_key=f"line-{cast.line.pk}")
    assert own.count() == 2
    assert not TimetableSession.objects.filter(planner_key=f"line-{later.pk}").exists()
    [held] = PlannedSession.objects.filter(week=drafts(term)[2], attendees__service_line=later)
    assert (held.date.weekday(), held.start) in {(one.weekday, one.start) for one in own}
    assert held.planner_key == f"line-{later.pk}", "the week itself is kept under the terms of its days"
