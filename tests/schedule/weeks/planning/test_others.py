"""Classes and spaces are had once at a time, like students; drafts of others are gone around, and named.

What is refused is what the rules in docs/dated-weeks.md say; no outside source.
"""

import datetime as dt
from typing import Any

import pytest

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.spans import most_at_once
from schedule.planner.asking.favor_kinds import favors_of
from schedule.weeks.models import PlannedSession, UnplacedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.others.ahead import others_ahead
from schedule.weeks.planning.others.elsewhere import Use, spans_in_use
from schedule.weeks.planning.others.under_way import drafts_under_way
from schedule.weeks.services.weeks import week_discard, week_publish, week_restore
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_line, make_week, minute, minutes_on
from tests.schedule.runs import plan_now
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import page
from travel.places.models import Space

OWN_CLASS = {"setting": ServiceLine.Setting.OWN_CLASS, "times": 1, "statement": "1 x 30"}


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers with rules; the mate has a line for S01, too."""
    make_two_teachers(cast)
    return cast


def line_of(cast: Cast, code: str, teacher: Person, space: Space, **values: object) -> ServiceLine:
    """Once a week, one to one unless said otherwise, in one space only."""
    given: dict[str, object] = {"setting": ServiceLine.Setting.ONE_TO_ONE, "largest_group": 1, **values}
    line = make_line(cast, code, teacher=teacher, **given)  # type: ignore[arg-type]
    line.allowed_spaces.set([space])
    return line


def at_half_past_eight(cast: Cast, line: ServiceLine, unit: str = "") -> WeekPlan:
    """A draft that holds the line on Monday from 8:30 to 9:00."""
    return make_week(cast, [(unit or f"line-{line.pk}", date(0), "8:30")], teacher=line.provider)


def refused(week: WeekPlan) -> ApplicationError:
    """Why its teacher can't publish it."""
    with pytest.raises(ApplicationError) as caught:
        publish(week)
    week.refresh_from_db()
    assert week.status == "draft"
    return caught.value


# ---- spaces ----------------------------------------------------------------------------------------------------


def two_in_the_gym(cast: Cast) -> tuple[WeekPlan, WeekPlan]:
    """Drafts of both teachers with a session each in the gym, Monday at 8:30."""
    lines = [line_of(cast, "G1", cast.teacher, cast.gym), line_of(cast, "G2", cast.mate, cast.gym)]
    mine, theirs = (at_half_past_eight(cast, line) for line in lines)
    return mine, theirs


def test_a_space_is_not_used_twice(ground: Cast) -> None:
    mine, theirs = two_in_the_gym(ground)
    publish(theirs)
    error = refused(mine)
    assert error.code == "space_taken"
    gym = ground.gym
    assert f"{gym.name} at North Hollow School is with Mate Vey 8:30 to 9:00 on Monday" in error.message
    assert "ask Mate Vey to move theirs, or publish without this session." in error.message


def test_a_space_with_room_for_two_classes_takes_two(ground: Cast) -> None:
    """And not three: a class has its own period there, too."""
    Space.objects.filter(pk=ground.gym.pk).update(classes_that_fit=2)
    mine, theirs = two_in_the_gym(ground)
    publish(theirs)
    assert publish(mine).status == "published"


def test_a_class_in_its_own_period_takes_room_beside_two_teachers(ground: Cast) -> None:
    Space.objects.filter(pk=ground.gym.pk).update(classes_that_fit=2)
    mine, theirs = two_in_the_gym(ground)
    ground.room4.meetings.create(days="Mon", period="1", space=ground.gym)
    publish(theirs)
    before = WeekPlan.objects.filter(status="published").count()
    with pytest.raises(ApplicationError):
        publish(mine)
    assert WeekPlan.objects.filter(status="published").count() == before


def test_planning_names_who_has_the_space(ground: Cast) -> None:
    mine, theirs = two_in_the_gym(ground)
    publish(theirs)
    loaded = load_week(ground.teacher, MONDAY)
    unit = PlannedSession.objects.get(week=mine).planner_key
    assert minute("8:30") not in minutes_on(loaded, unit, date(0))
    barred = [one for one in loaded.problem.unit(unit).barred if one.day == str(MONDAY)]  # type: ignore[union-attr]
    [there] = [one for one in barred if one.at == minute("8:30")]
    assert (there.reason_code, there.ask) == ("space_in_use", "Mate Vey")
    assert there.text == f"{ground.gym.name} is with Mate Vey 8:30 to 9:00"


def test_a_version_is_not_brought_back_into_a_space_that_another_has(ground: Cast) -> None:
    mine, theirs = two_in_the_gym(ground)
    publish(mine)
    unit = PlannedSession.objects.get(week=mine).planner_key
    later = publish(make_week(ground, [(unit, date(0), "9:20")]))
    publish(theirs)
    with pytest.raises(ApplicationError) as caught:
        week_restore(actor=ground.teacher, week=later)
    assert caught.value.code == "space_taken"
    assert WeekPlan.objects.get(teacher=ground.teacher, status="published").pk == later.pk


def test_how_full_a_space_is() -> None:
    """Two uses one after the other are one at a time; a class counts once, whoever is with it."""
    assert most_at_once([(500, 520), (520, 540)], (500, 540)) == 1
    assert most_at_once([(500, 521), (520, 540)], (500, 540)) == 2
    assert most_at_once([(500, 521), (520, 540)], (521, 540)) == 1
    uses = [Use((500, 530), 7), Use((500, 530), 7, "Mate Vey"), Use((510, 540))]
    assert most_at_once(spans_in_use(uses), (500, 540)) == 2
    assert most_at_once(spans_in_use(uses, 7), (500, 540)) == 1


# ---- classes ---------------------------------------------------------------------------------------------------


def two_with_the_class(cast: Cast) -> tuple[WeekPlan, WeekPlan]:
    """Each has a student of Room 4 for its class hour, in a space of their own, Monday at 8:30."""
    hall = Space.objects.create(building=cast.north, name="Hall", kind="multipurpose")
    mine = line_of(cast, "K1", cast.teacher, cast.gym, home_class=cast.room4, **OWN_CLASS)
    theirs = line_of(cast, "K2", cast.mate, hall, home_class=cast.room4, **OWN_CLASS)
    unit = f"class-{cast.room4.pk}-30"
    return at_half_past_eight(cast, mine, unit), at_half_past_eight(cast, theirs, unit)


def test_a_class_is_with_one_teacher_at_a_time(ground: Cast) -> None:
    mine, theirs = two_with_the_class(ground)
    publish(theirs)
    error = refused(mine)
    assert error.code == "class_in_two_places"
    told = f"{ground.room4.name} is with Mate Vey at North Hollow School 8:30 to 9:00 on Monday, September 14, 2026"
    assert told[1:] in error.message


def test_planning_keeps_a_class_where_it_is(ground: Cast) -> None:
    """And knows whom to ask for it."""
    _, theirs = two_with_the_class(ground)
    publish(theirs)
    loaded = load_week(ground.teacher, MONDAY)
    unit = f"class-{ground.room4.pk}-30"
    found = minutes_on(loaded, unit, date(0))
    assert minute("8:30") not in found
    assert minute("9:20") in found
    codes = {one.code: one for one in favors_of(loaded.problem) if one.day == str(MONDAY)}
    assert codes["class_elsewhere"].ask == "Mate Vey"


def test_two_may_push_into_one_class(ground: Cast) -> None:
    ground.room4.meetings.create(days="Mon", period="1", space=ground.gym)
    values: dict[str, Any] = {"setting": ServiceLine.Setting.PUSH_IN, "pushed_into": ground.room4}
    mine = make_line(ground, "P1", teacher=ground.teacher, **values)
    theirs = make_line(ground, "P2", teacher=ground.mate, **values)
    drafts = [at_half_past_eight(ground, line) for line in (mine, theirs)]
    assert [publish(week).status for week in drafts] == ["published", "published"]


# ---- publishing without what others have -------------------------------------------------------------------------


def test_the_rest_is_published_without_what_another_has(ground: Cast) -> None:
    """What is left out is owed still, with the reason and whom to ask."""
    mine, theirs = two_in_the_gym(ground)
    also = make_line(ground, "G3")
    publish(theirs)
    both = make_week(
        ground,
        [
            (PlannedSession.objects.get(week=mine).planner_key, date(1), "8:30"),
            (f"line-{also.pk}", date(1), "9:20"),
        ],
    )
    PlannedSession.objects.filter(week=both, date=date(1), start=dt.time(8, 30)).update(date=date(0))
    answer = Api(ground.teacher).post(
        f"weeks/{both.pk}/publish/", expect=200, expected_revision=both.revision, leave_out=True
    )
    assert answer["status"] == "published"
    held = PlannedSession.objects.get(week__teacher=ground.teacher, week__status="published")
    assert held.attendees.get().service_line_id == also.pk
    [left] = UnplacedSession.objects.filter(week=held.week, service_line__plan__student__code="G1")
    assert left.reasons == ["Left out when the week was published: Mate Vey has the space at its time."]
    assert (left.minutes, left.ask) == (30, "Mate Vey")


def test_the_pages_offer_the_ways_out(ground: Cast) -> None:
    mine, theirs = two_in_the_gym(ground)
    publish(theirs)
    shown = page(ground.teacher, "week_compare", mine.pk)
    assert "Publish without this session" in shown
    assert f"{ground.gym.name} at North Hollow School is with Mate Vey" in shown
    told = Api(ground.teacher).get(f"weeks/{mine.pk}/others/")
    assert [one["kind"] for one in told["in_force"]] == ["space"]
    assert told["sessions"] == 1


# ---- drafts ----------------------------------------------------------------------------------------------------


def test_a_draft_of_another_is_gone_around(ground: Cast) -> None:
    """Both are planned; the second one's draft leaves the first one's its time, and nothing is unplaced for it."""
    for line in (line_of(ground, "G1", ground.teacher, ground.gym), line_of(ground, "G2", ground.mate, ground.gym)):
        run = plan_now(line.provider, MONDAY, date(4), seconds=1)
        assert run.weeks.get().status == "draft"
    mine, theirs = (WeekPlan.objects.get(teacher=one) for one in (ground.teacher, ground.mate))
    assert others_ahead(ground.mate, theirs).drafts == ()
    assert not UnplacedSession.objects.filter(week=theirs).exists()
    assert publish(mine).status == "published"
    assert publish(theirs).status == "published"


def test_a_draft_gives_way_to_what_is_owed(ground: Cast) -> None:
    """The mate's draft has the only time of the gym: the session is placed all the same, and the draft is named."""
    lines = [line_of(ground, "G1", ground.teacher, ground.gym), line_of(ground, "G2", ground.mate, ground.gym)]
    at_half_past_eight(ground, lines[1])
    ground.gym.free_times.create(days="Mon", start=dt.time(8, 30), end=dt.time(9, 0))
    run = plan_now(ground.teacher, MONDAY, date(4), seconds=1)
    week = run.weeks.get()
    assert not UnplacedSession.objects.filter(week=week, service_line=lines[0]).exists()
    notes = student_names(ground.teacher).all_told(run.summary["notes"])
    told = f"{ground.gym.name} at North Hollow School is with Mate Vey 8:30 to 9:00 in a draft on Monday"
    assert [one for one in notes if told in one]
    assert [one.kind for one in others_ahead(ground.teacher, week).drafts] == ["space"]


def test_which_drafts_somebody_is_at_work_on(ground: Cast) -> None:
    """The newest of each teacher; none that is set aside, two weeks old, or older than the week in force."""
    line = line_of(ground, "G2", ground.mate, ground.gym)
    old, new = at_half_past_eight(ground, line), at_half_past_eight(ground, line)
    now = new.created_at
    assert drafts_under_way(ground.teacher, [MONDAY], now) == [new.pk]
    assert drafts_under_way(ground.mate, [MONDAY], now) == []
    assert drafts_under_way(ground.teacher, [date(7)], now) == []
    assert drafts_under_way(ground.teacher, [MONDAY], now + dt.timedelta(days=15)) == []
    week_discard(actor=ground.mate, week=new)
    assert drafts_under_way(ground.teacher, [MONDAY], now) == [old.pk]
    third = at_half_past_eight(ground, line)
    week_publish(actor=ground.mate, week=third, expected_revision=third.revision)
    assert drafts_under_way(ground.teacher, [MONDAY], now) == []
