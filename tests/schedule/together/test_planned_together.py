"""Two teachers planned together: drafts that hold beside one another, who gives way in words, published at once."""

import datetime as dt

import pytest
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from jobs.runner import run_job
from schedule.together.models import TogetherPlan
from schedule.together.selectors import sharing_in, together_get, together_view
from schedule.together.services import together_plan_start, together_plan_stop, together_publish
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlannedSession, UnplacedSession, WeekPlan
from tests.api import Api
from tests.conftest import Cast, make_person
from tests.schedule.builders import MONDAY, date, make_line, make_week
from tests.schedule.weeks.planning.test_others import line_of
from tests.schedule.weeks.planning.two_teachers import make_rules, make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import page

BEFORE = dt.datetime(2026, 9, 8, 12, tzinfo=dt.UTC)
"""A Tuesday before the week that is planned."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Both serve S01, and each has one more in the one gym, free only on Monday until 10:05."""
    make_two_teachers(cast)
    for code, teacher in (("G1", cast.teacher), ("G2", cast.mate)):
        line_of(cast, code, teacher, cast.gym)
    cast.gym.free_times.create(days="Mon", start=dt.time(8, 30), end=dt.time(10, 5))
    return cast


def planned(cast: Cast, teachers: list[Person] | None = None) -> TogetherPlan:
    """A plan of both, worked by its job."""
    row = together_plan_start(
        actor=cast.coordinator,
        teachers=teachers or [cast.teacher, cast.mate],
        monday=date(2),
        time_limit=2,
        now=BEFORE,
    )
    run_job(row.job_id)
    return together_get(cast.coordinator, row.pk)


def held(week: WeekPlan) -> list[tuple[dt.date, dt.time, dt.time]]:
    return list(PlannedSession.objects.filter(week=week).values_list("date", "start", "end"))


def test_both_get_drafts_that_hold_beside_one_another(ground: Cast) -> None:
    row = planned(ground)
    assert row.job.state == "done", row.job.error
    assert row.monday == MONDAY
    mine, theirs = (WeekPlan.objects.get(teacher=one, status="draft") for one in (ground.teacher, ground.mate))
    assert not UnplacedSession.objects.filter(week__in=[mine, theirs]).exists()
    meets = [
        (one, other)
        for one in PlannedSession.objects.filter(week=mine)
        for other in PlannedSession.objects.filter(week=theirs)
        if one.date == other.date and one.start < other.end and other.start < one.end
        if one.space_id == other.space_id
        or set(one.attendees.values_list("student")) & set(other.attendees.values_list("student"))
    ]
    assert meets == []
    view = together_view(ground.coordinator, row)
    assert view.proved
    assert view.sums.endswith("No weeks of these teachers are better over all, proved.")
    assert [(one.teacher, one.status, one.unplaced) for one in view.weeks] == [
        ("Mate Vey", "draft", 0),
        ("Teacher Vey", "draft", 0),
    ]
    assert together_publish(actor=ground.coordinator, row=row) == 2
    assert WeekPlan.objects.filter(status="published", monday=MONDAY).count() == 2
    with pytest.raises(ApplicationError) as caught:
        together_publish(actor=ground.coordinator, row=row)
    assert caught.value.code == "nothing_to_publish"


def test_who_gives_way_is_said(ground: Cast) -> None:
    """The gym holds one of two sessions: one teacher has it, the other's is told as not placed."""
    ground.gym.free_times.update(end=dt.time(9, 0))
    view = together_view(ground.coordinator, planned(ground))
    assert sum(one.unplaced for one in view.weeks) == 30
    assert [one.unplaced_alone for one in view.weeks] == [0, 0]
    [told] = [one for one in view.gave_way if one.startswith(ground.gym.name)]
    assert "Monday" in told
    assert told.endswith(("has it, Mate Vey gives way.", "has it, Teacher Vey gives way."))
    [cost] = [one.cost for one in view.weeks if one.unplaced]
    assert "30 minutes more aren't placed" in cost


def test_weeks_in_force_of_the_group_are_in_nobodys_way(ground: Cast) -> None:
    """The mate has the gym's only time in force: it is planned anew with the rest, and one of the two has it."""
    ground.gym.free_times.update(end=dt.time(9, 0))
    unit = f"line-{ServiceLine.objects.get(plan__student__code='G2').pk}"
    publish(make_week(ground, [(unit, date(0), "8:30")], teacher=ground.mate))
    row = planned(ground)
    view = together_view(ground.coordinator, row)
    assert [one.unplaced_alone for one in view.weeks] == [0, 0]
    assert sum(one.unplaced for one in view.weeks) == 30
    assert view.proved
    assert together_publish(actor=ground.coordinator, row=row) == 2


def test_what_is_refused(ground: Cast) -> None:
    both = [ground.teacher, ground.mate]
    ask = {"actor": ground.coordinator, "teachers": both, "monday": MONDAY, "now": BEFORE}
    for code, changed in (
        ("not_for_your_role", {"actor": ground.teacher}),
        ("two_teachers", {"teachers": [ground.teacher]}),
        ("week_begun", {"now": timezone.now()}),
        ("time_limit", {"time_limit": 61}),
        ("other_district", {"teachers": [*both, ground.stranger]}),
    ):
        with pytest.raises(ApplicationError) as caught:
            together_plan_start(**{**ask, **changed})  # type: ignore[arg-type]
        assert caught.value.code == code
    assert TogetherPlan.objects.count() == 0


def test_pressing_twice_gives_the_plan_under_way_and_stopping_ends_it(ground: Cast) -> None:
    ask = {"actor": ground.coordinator, "teachers": [ground.teacher, ground.mate], "monday": MONDAY, "now": BEFORE}
    first = together_plan_start(**ask)  # type: ignore[arg-type]
    assert together_plan_start(**ask).pk == first.pk  # type: ignore[arg-type]
    together_plan_stop(actor=ground.coordinator, row=first)
    view = together_view(ground.coordinator, together_get(ground.coordinator, first.pk))
    assert view.stop_asked or view.is_over


def test_other_choices_for_a_week_under_way_are_refused_by_name(ground: Cast) -> None:
    """What is being planned goes on as it is; what it leaves out of the choices is said."""
    third = make_person(ground.district, "third", Person.Role.TEACHER)
    make_rules(ground, third)
    make_line(ground, "T1", teacher=third)
    both = [ground.teacher, ground.mate]
    first = together_plan_start(actor=ground.coordinator, teachers=both, monday=MONDAY, now=BEFORE)
    opening = "Mate Vey and Teacher Vey are being planned together right now for the week of September 14, 2026. "
    ending = " Nothing of what you chose is planned yet. Wait for that plan, or stop it, then ask again."
    ask = {"actor": ground.coordinator, "teachers": both, "monday": MONDAY, "now": BEFORE}
    for told, changed in (
        ("Third Vey is not among them.", {"teachers": [*both, third]}),
        ("Third Vey is not among them. You left out Mate Vey.", {"teachers": [ground.teacher, third]}),
        ("“Keep usual times” comes first there, not “Drive least”.", {"aim": Aim.LEAST_DRIVING}),
        ("A week is searched for 10 seconds there, not for 5.", {"time_limit": 5}),
    ):
        with pytest.raises(ApplicationError) as caught:
            together_plan_start(**{**ask, **changed})  # type: ignore[arg-type]
        assert (caught.value.code, caught.value.message) == ("under_way", opening + told + ending)
    assert [one.pk for one in TogetherPlan.objects.all()] == [first.pk]
    assert {*first.teachers.all()} == {*both}
    other = together_plan_start(actor=ground.coordinator, teachers=both, monday=date(7), now=BEFORE)
    assert other.pk != first.pk


def test_who_shares_what_is_told(ground: Cast) -> None:
    [one] = sharing_in(ground.coordinator, MONDAY)
    assert one.teachers == tuple(person.pk for person in (ground.mate, ground.teacher))
    assert (one.names, one.shared) == ("Mate Vey and Teacher Vey", "North Hollow School and 1 student")


def test_nobody_else_sees_it(ground: Cast) -> None:
    row = planned(ground)
    for viewer in (ground.teacher, ground.mate, ground.office, ground.stranger):
        with pytest.raises(ApplicationError):
            together_get(viewer, row.pk)


# ---- pages and API ---------------------------------------------------------------------------------------------


def test_the_page_shows_each_draft_and_publishes_all(ground: Cast) -> None:
    row = planned(ground)
    text = page(ground.coordinator, "together_plan", row.pk)
    assert "Publish 2 drafts" in text
    assert "proved." in text
    page(ground.teacher, "together_plan", row.pk, status=403)
    answer = Api(ground.coordinator).post(f"together/{row.pk}/publish/", expect=200)
    assert [one["status"] for one in answer["weeks"]] == ["published", "published"]
    assert answer["drafts"] == 0
    assert "Publish 2 drafts" not in page(ground.coordinator, "together_plan", row.pk)


def test_the_page_proposes_who_shares(ground: Cast) -> None:
    text = page(ground.coordinator, "together", week=str(MONDAY))
    assert "<strong>Mate Vey and Teacher Vey</strong> share North Hollow School and 1 student." in text


def test_the_api_refuses_a_week_that_has_begun_in_the_services_words(ground: Cast) -> None:
    answer = Api(ground.coordinator).post(
        "together/", expect=409, teachers=[ground.teacher.pk, ground.mate.pk], monday="2026-09-16"
    )
    assert answer["code"] == "week_begun"
    assert answer["message"].endswith("has begun. Choose a week that is ahead.")
