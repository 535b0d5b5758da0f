"""A term from asking to its weeks where services owe by the month, and where a short week stays owed."""

import datetime as dt
from collections import Counter

from django.test import Client

from caseload.delivery.models import LedgerSettings
from caseload.plans.models import ServiceLine
from jobs.runner import run_job
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.plans import term_plan_start
from schedule.terms.services.publishing import term_publish
from schedule.weeks.models import PlannedSession, TimetableSession, WeekPlan
from schedule.weeks.planning.assemble import Base
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.gaps import week_against_owed
from schedule.weeks.services.weeks import week_discard, week_publish
from schedule.weeks.versions.history import content_in_force
from tests.conftest import Cast
from tests.schedule.builders import make_entry, make_ground, make_line

NOVEMBER = [dt.date(2026, 11, day) for day in (2, 9, 16, 23)]


def planned(cast: Cast) -> TermPlan:
    """November 2026, planned by its job."""
    term = term_plan_start(
        actor=cast.teacher,
        teacher=cast.teacher,
        first_date=NOVEMBER[0],
        last_date=dt.date(2026, 11, 27),
        worth=60,
        time_limit=20,
    )
    run_job(term.run.job_id)
    return term_get(cast.teacher, term.pk)


def by_month(cast: Cast) -> ServiceLine:
    """4 x 30 a month in the south, where the teacher has something else only in the later half of November."""
    make_ground(cast)
    make_line(cast, "F1", building=cast.south, start=dt.date(2026, 11, 16), statement="2 x 30 min/week", times=2)
    return make_line(cast, "M1", building=cast.south, statement="4 x 30 min/month", times=4, unit="month")


def held(line: ServiceLine, **which: object) -> list[int]:
    """Sessions of a line in each week of November."""
    rows = PlannedSession.objects.filter(attendees__service_line=line, week__monday__in=NOVEMBER, **which)
    counts = Counter(rows.values_list("week__monday", flat=True))
    return [counts[monday] for monday in NOVEMBER]


def test_a_month_is_not_missing_from_the_weeks_published_before_those_that_hold_it(cast: Cast) -> None:
    """Weeks of a term are published one by one; the month stands in drafts until then, and is missing without."""
    line = by_month(cast)
    term = planned(cast)
    assert held(line, makes_up=False) == [0, 0, 2, 2]
    first, _, third, fourth = WeekPlan.objects.filter(plan_run=term.run).order_by("monday")
    week = week_publish(actor=cast.teacher, week=first, expected_revision=first.revision)
    assert week_against_owed(cast.teacher, week, NOVEMBER[0]).left_out == ()
    for draft in (third, fourth):
        week_discard(actor=cast.teacher, week=draft)
    [gap] = week_against_owed(cast.teacher, week, NOVEMBER[0]).left_out
    assert gap.statement == line.statement


def test_weeks_hold_a_month_where_the_teacher_is_anyway(cast: Cast) -> None:
    line = by_month(cast)
    term = planned(cast)
    assert held(line, makes_up=False) == [0, 0, 2, 2]
    said = next(one for one in term_detail(cast.teacher, term).minutes if one.line_id == line.pk)
    assert (said.period, said.owed, said.placed, said.behind) == ("November 2026", 120, 120, "")
    assert said.who == line.plan.student.full_name


def test_a_published_week_keeps_what_it_holds_of_a_month(cast: Cast) -> None:
    line = by_month(cast)
    term_publish(actor=cast.teacher, term=planned(cast))
    base = Base(in_force=content_in_force(cast.teacher, NOVEMBER[2]))
    again = load_week(cast.teacher, NOVEMBER[2], base)
    assert again.lines[line.pk].owed.sessions == 2
    early = load_week(cast.teacher, NOVEMBER[0], Base(in_force=content_in_force(cast.teacher, NOVEMBER[0])))
    assert line.pk not in early.lines


def test_a_short_week_is_made_good_and_stands_in_no_timetable(cast: Cast) -> None:
    make_ground(cast)
    LedgerSettings.objects.create(district=cast.district, first_day=dt.date(2026, 8, 1), short_week="whole")
    line = make_line(cast, "N1", statement="3 x 30 min/week", times=3)
    for day in (9, 10, 11):
        make_entry(cast, dt.date(2026, 11, day), "closed")
    term = planned(cast)
    assert held(line, makes_up=False) == [3, 2, 3, 3]
    assert held(line, makes_up=True) == [0, 0, 1, 0]
    keys = TimetableSession.objects.filter(timetable=term.standing).values_list("planner_key", flat=True)
    assert not [key for key in keys if key.startswith("make-up")]
    term_publish(actor=cast.teacher, term=term)
    assert WeekPlan.objects.filter(status=WeekPlan.Status.PUBLISHED, monday__in=NOVEMBER).count() == 4
    # Planned once more, the make-up that is in force by now is enough.
    planned(cast)
    week = WeekPlan.objects.get(monday=NOVEMBER[2], status=WeekPlan.Status.DRAFT)
    assert week.sessions.filter(makes_up=True).count() == 1


def test_page_and_api_say_what_is_owed_placed_and_in_reserve(cast: Cast, client: Client) -> None:
    line = by_month(cast)
    term = planned(cast)
    client.force_login(cast.teacher)
    page = client.get(f"/term/{term.pk}/").content.decode()
    assert "4 x 30 minutes owed in November 2026: 2 in each of the weeks of November 16 and 23" in page
    assert "Behind, or likely to be" not in page
    told = client.get(f"/api/1/terms/{term.pk}/").json()["minutes"]
    mine = next(one for one in told if one["line_id"] == line.pk)
    assert mine["reserve"] == mine["reserve_wanted"] > 0
