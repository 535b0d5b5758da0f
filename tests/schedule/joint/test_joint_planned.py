"""One teacher's week goes by the other's where sessions are given together; publishing accepts just these.

What holds of a joint session is what docs/together.md says (same start, minutes and place); no outside source.
"""

import datetime as dt
from typing import Any

import pytest

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.calendar.models import Meeting
from schedule.joint.models import JointService
from schedule.weeks.models import PlannedSession, UnplacedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.others.elsewhere import Use, spans_in_use
from schedule.weeks.selectors.told.joint import joint_between, joint_seen
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_line, make_week, minute, starts_of
from tests.schedule.runs import plan_now
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import page
from travel.places.models import Space


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers who each have S01 twice a week, the mate in Room 9 alone."""
    make_two_teachers(cast)
    return cast


def line_of(cast: Cast, teacher: Person) -> ServiceLine:
    """A teacher's line for S01."""
    return ServiceLine.objects.get(provider=teacher, plan__student=cast.student)


def given_together(cast: Cast, times: int | None = 1, first: dt.date = MONDAY) -> JointService:
    """So many of their sessions a week."""
    mine, theirs = line_of(cast, cast.teacher), line_of(cast, cast.mate)
    return JointService.objects.create(
        service=mine.service, partner=theirs.service, times_a_week=times, first_day=first
    )


def week_with(cast: Cast, teacher: Person, *times: tuple[int, str]) -> WeekPlan:
    """A draft with S01 on these days of the week at these times."""
    line = line_of(cast, teacher)
    return make_week(cast, [(f"line-{line.pk}", date(day), clock) for day, clock in times], teacher=teacher)


def planned(teacher: Person) -> WeekPlan:
    """The draft of a planning run."""
    return plan_now(teacher, MONDAY, date(4), seconds=1).weeks.get()


def moments(week: WeekPlan) -> set[tuple[dt.date, dt.time, dt.time, str]]:
    """When and where it holds S01."""
    rows = PlannedSession.objects.filter(week=week, attendees__student__code="S01").select_related("space")
    return {(one.date, one.start, one.end, one.space.name if one.space else "") for one in rows}


def room_9(day: int, clock: str) -> tuple[dt.date, dt.time, dt.time, str]:
    """Half an hour in the mate's room."""
    start = at(clock)
    return date(day), start, (dt.datetime.combine(date(day), start) + dt.timedelta(minutes=30)).time(), "Room 9"


# ---- planning --------------------------------------------------------------------------------------------------


def test_without_agreement_nobody_is_planned_where_another_has_the_student(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    loaded = load_week(ground.teacher, MONDAY)
    unit = f"line-{line_of(ground, ground.teacher).pk}"
    assert (date(1).isoformat(), minute("9:20")) not in starts_of(loaded, unit)


def test_each_session_stands_beside_the_others(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    week = planned(ground.teacher)
    assert moments(week) == {room_9(1, "9:20"), room_9(3, "13:15")}
    assert publish(week).status == "published"
    assert not joint_seen(week).apart
    assert len(joint_between(ground.teacher, MONDAY, date(4))) == 2


def test_one_of_two_sessions_stands_beside_the_others(ground: Cast) -> None:
    """And the other one doesn't meet the mate's second session, which is the mate's alone."""
    theirs = publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground)
    week = planned(ground.teacher)
    shared = moments(week) & moments(theirs)
    assert len(moments(week)) == 2
    assert len(shared) == 1
    assert publish(week).status == "published"


def test_a_draft_is_gone_by_where_no_week_is_in_force(ground: Cast) -> None:
    draft = week_with(ground, ground.mate, (1, "9:20"), (3, "13:15"))
    given_together(ground, times=None)
    week = planned(ground.teacher)
    assert moments(week) == moments(draft)
    assert [publish(one).status for one in (week, draft)] == ["published", "published"]


def test_whoever_is_planned_first_is_free(ground: Cast) -> None:
    given_together(ground, times=None)
    first = publish(planned(ground.teacher))
    assert len(moments(first)) == 2


def test_what_has_no_place_beside_the_other_is_placed_by_itself(ground: Cast) -> None:
    """The teacher has another meeting at both of the mate's times: minutes that are owed come first."""
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    for weekday, clock, end in ((1, "9:00", "10:00"), (3, "13:00", "14:00")):
        Meeting.objects.create(
            district=ground.district, teacher=ground.teacher, title="Team", weekday=weekday, start=at(clock),
            end=at(end), building=ground.north,
        )  # fmt: skip
    week = planned(ground.teacher)
    assert not UnplacedSession.objects.filter(week=week).exists()
    assert len(moments(week)) == 2
    [apart] = joint_seen(week).apart
    assert (apart.teacher, apart.missing, len(apart.theirs)) == ("Mate Vey", 2, 2)


def test_before_its_first_day_nothing_is_given_together(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None, first=date(2))
    week = planned(ground.teacher)
    assert room_9(1, "9:20") not in moments(week)
    assert room_9(3, "13:15") in moments(week)


def test_a_space_that_the_service_does_not_allow_is_not_gone_to(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    line_of(ground, ground.teacher).allowed_spaces.set([ground.gym])
    week = planned(ground.teacher)
    assert {space for *_, space in moments(week)} == {"Gym"}


# ---- publishing ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("clock", "minutes", "space"), [("9:25", 30, "Room 9"), ("9:20", 25, "Room 9"), ("9:20", 30, "Gym")]
)
def test_only_the_same_time_and_place_is_one_session(ground: Cast, clock: str, minutes: int, space: str) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    mine = week_with(ground, ground.teacher, (1, "9:20"), (3, "13:15"))
    end = (dt.datetime.combine(MONDAY, at(clock)) + dt.timedelta(minutes=minutes)).time()
    there = Space.objects.get(building=ground.north, name=space)
    PlannedSession.objects.filter(week=mine, date=date(1)).update(start=at(clock), end=end, space=there)
    with pytest.raises(ApplicationError) as refused:
        publish(mine)
    assert refused.value.code == "student_in_two_places"


def test_what_is_not_agreed_is_refused_as_ever(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    said = given_together(ground, times=None)
    mine = week_with(ground, ground.teacher, (1, "9:20"), (3, "13:15"))
    said.delete()
    with pytest.raises(ApplicationError) as refused:
        publish(mine)
    assert refused.value.code == "student_in_two_places"


def test_a_joint_session_takes_its_space_once() -> None:
    """Two teachers with one student are in the room together; somebody else's session there is another."""
    both = [Use((500, 530), None, "A", frozenset({1})), Use((500, 530), None, "B", frozenset({1}))]
    assert len(spans_in_use(both)) == 1
    assert len(spans_in_use([*both, Use((500, 530), None, "C", frozenset({2}))])) == 2
    assert len(spans_in_use([both[0], Use((505, 535), None, "B", frozenset({1}))])) == 2


# ---- moved by one side -----------------------------------------------------------------------------------------


def test_what_the_other_moves_is_said_and_gone_by_again(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    mine = publish(planned(ground.teacher))
    assert "together with Mate Vey" in page(ground.teacher, "week_version", mine.pk)
    publish(week_with(ground, ground.mate, (1, "9:20"), (4, "10:10")))
    shown = page(ground.teacher, "week_version", mine.pk)
    assert "1 session is no longer at the same time as Mate Vey in the same place" in shown
    assert "Mate Vey has Friday 10:10 to 10:40" in shown
    assert moments(planned(ground.teacher)) == {room_9(1, "9:20"), room_9(4, "10:10")}


def test_the_day_the_log_and_the_wall_say_with_whom(ground: Cast) -> None:
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    mine = publish(week_with(ground, ground.teacher, (1, "9:20"), (3, "13:15")))
    day = page(ground.teacher, "day_of", date(1).isoformat())
    assert "Together with</span> Mate Vey" in day
    assert "together with Mate Vey" in page(ground.teacher, "log", date=date(1).isoformat())
    wall = page(ground.teacher, "week_print", mine.pk)
    assert "with Mate Vey" in wall
    assert ground.student.last_name not in wall
    assert "ogether with" not in page(ground.office, "week_version", mine.pk)


def test_a_group_with_others_is_not_one_session_with_the_mates(ground: Cast) -> None:
    """The student's own service stands beside the mate's; what is joined with other students doesn't."""
    both: dict[str, Any] = {"setting": ServiceLine.Setting.SMALL_GROUP, "largest_group": 4}
    ServiceLine.objects.filter(pk=line_of(ground, ground.teacher).pk).update(**both)
    make_line(ground, "G7", **both)
    publish(week_with(ground, ground.mate, (1, "9:20"), (3, "13:15")))
    given_together(ground, times=None)
    infos = load_week(ground.teacher, MONDAY).units.infos
    groups = [info for info in infos.values() if len(info.lines) > 1]
    assert groups
    assert not any(info.joint.starts for info in groups)
    [alone] = [info for info in infos.values() if info.lines == (line_of(ground, ground.teacher).pk,)]
    assert alone.joint.moments == {(date(1).isoformat(), minute("9:20")), (date(3).isoformat(), minute("13:15"))}
