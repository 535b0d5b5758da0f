"""A timetable that changes within its term: said with its day, in force from then on, taken back with the rest."""

import datetime as dt
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services.curve import term_curve_ask, term_curve_work
from schedule.terms.services.found import PlannedTerm, term_contents
from schedule.terms.services.loading import LoadedTerm, standing_read, term_load
from schedule.terms.services.plans import term_plan_save
from schedule.terms.services.publishing import standing_publish, term_publish, term_take_back
from schedule.weeks.models import TimetableVersion
from schedule.weeks.versions.standing import standing_in_force
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

SINCE = MONDAY + 2 * WEEK


@pytest.fixture
def changing(cast: Cast) -> TermPlan:
    """Four weeks; from the third on F1 stands at another time, and N1 begins then."""
    make_ground(cast)
    line = make_line(cast, "F1", building=cast.south)
    make_line(cast, "N1", building=cast.north, start=SINCE)
    term = planned(cast, weeks=4)
    loaded = term_load(term.run)
    assert term.standing is not None
    standing = standing_read(term.standing, loaded)
    moved = next(one for one in standing.sessions if one.unit == f"line-{line.pk}")
    elsewhere = _elsewhere(loaded, moved, standing)
    after = StandingTimetable((*(one for one in standing.sessions if one != moved), elsewhere))
    asked = loaded.term(standing, term.worth, [LaterTimetable(SINCE.isoformat(), after)])
    result = plan_term(asked, effort=20.0, time_limit=200.0)
    term_plan_save(term=term, found=PlannedTerm(loaded, result, term_contents(loaded, result)))
    return term_get(cast.teacher, term.pk)


def _elsewhere(loaded: LoadedTerm, moved: StandingSession, standing: StandingTimetable) -> StandingSession:
    """The same session on another weekday, two hours and more from whatever stands there."""
    starts = loaded.weeks[-1].week.problem.starts_of(moved.unit)
    free = [
        one
        for one in starts
        if one.pattern_key != moved.pattern_key
        and all(
            abs(other.at - one.at) >= 120 for other in standing.sessions if other.pattern_key == one.pattern_key
        )
    ]
    return replace(moved, pattern_key=free[0].pattern_key or "", at=free[0].at, space=free[0].space)


def stands_in(term: TermPlan, monday: dt.date) -> TimetableVersion | None:
    return standing_in_force(term.run.teacher, monday)


def test_what_changes_is_said_with_its_day(cast: Cast, changing: TermPlan) -> None:
    view = term_detail(cast.teacher, changing)
    [later] = view.later
    [move] = later.moves
    assert (later.since, bool(move.before), bool(move.after)) == (SINCE, True, True)
    assert "Quernmore-F1" in move.who
    assert [(one.building_code, one.sessions) for one in later.tell] == [(cast.south.code, 1)]
    dated = {(one.since, one.until) for one in view.standing}
    assert dated == {(None, None), (SINCE, None), (None, SINCE - dt.timedelta(days=1))}
    assert [(week.kept, week.exceptions) for week in view.weeks] == [(week.expected, ()) for week in view.weeks]


def test_page_print_and_api_say_it(cast: Cast, changing: TermPlan) -> None:
    client = Client()
    client.force_login(cast.teacher)
    page = client.get(reverse("term", args=[changing.pk])).content.decode()
    assert "From September 28" in page
    assert "becomes" in page
    assert ", from September 28" in page
    assert ", until September 27" in page
    printed = client.get(reverse("term_print", args=[changing.pk])).content.decode()
    assert ", from September 28" in printed
    assert ", until September 27" in printed
    told = client.get(f"/api/1/terms/{changing.pk}/").json()
    assert [one["since"] for one in told["later"]] == ["2026-09-28"]
    assert {one["until"] for one in told["standing"]} == {None, "2026-09-27"}


def test_each_week_is_compared_with_what_stands_then(cast: Cast, changing: TermPlan) -> None:
    term_publish(actor=cast.teacher, term=changing)
    [later] = changing.later.all()
    assert stands_in(changing, MONDAY) == stands_in(changing, SINCE - WEEK) == changing.standing
    assert stands_in(changing, SINCE) == stands_in(changing, SINCE + WEEK) == later
    term_take_back(actor=cast.teacher, term=changing, today=MONDAY - WEEK)
    assert [stands_in(changing, MONDAY), stands_in(changing, SINCE)] == [None, None]
    standing_publish(actor=cast.teacher, term=changing)
    assert [stands_in(changing, MONDAY), stands_in(changing, SINCE)] == [changing.standing, later]


def test_planned_again_nothing_of_it_is_left_over(cast: Cast, changing: TermPlan) -> None:
    loaded = term_load(changing.run)
    assert changing.standing is not None
    result = plan_term(loaded.term(standing_read(changing.standing, loaded), 60), effort=20.0, time_limit=200.0)
    term_plan_save(term=changing, found=PlannedTerm(loaded, result, term_contents(loaded, result)))
    assert list(changing.later.all()) == []
    assert TimetableVersion.objects.filter(teacher=cast.teacher).count() == 1


def test_the_choices_of_driving_keep_both_timetables(cast: Cast, changing: TermPlan) -> None:
    """At the highest worth no week departs, before and after the change."""
    curve = term_curve_ask(actor=cast.teacher, term=changing)
    found = term_curve_work(curve=curve, report=lambda _: None, stop_asked=lambda: False)
    [most] = [one for one in found["points"] if 60 in one["worths"]]
    assert most["summary"]["kept"] == most["summary"]["sessions"]
    assert [one["since"] for one in most["summary"]["later"]] == [SINCE.isoformat()]
