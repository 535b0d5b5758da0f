"""Goals saved as typed, and data taken, sent twice, taken by two at once, refused, taken back."""

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.told import Outcome
from caseload.progress.models import DataPoint, GoalRules, PhaseChange, StudentGoal
from caseload.progress.selectors.goals import goal_rules_on, goal_words, goals_waiting
from caseload.progress.selectors.story import goal_story
from caseload.progress.services import (
    DataTaken,
    data_import,
    data_restore,
    data_take,
    data_undo,
    goal_delete,
    goal_end,
    goal_read,
    goal_reopen,
    goal_rules_delete,
    goal_rules_save,
    goal_save,
    phase_change_save,
)
from caseload.progress.trend import TooFew
from tests.caseload.progress.builders import END, START, make_goal, make_point
from tests.conftest import Cast
from tests.schedule.log_builders import evening_of, log_line

DAY = dt.date(2026, 11, 30)
NOW = evening_of(DAY)


def typed(cast: Cast, text: str, **values: Any) -> StudentGoal:
    """A goal of the cast's student as its teacher types it."""
    told = {"text": text, "start": START, "end": END, **values}
    return goal_save(actor=cast.teacher, row=StudentGoal(student=cast.student), values=told)


def taken(goal: StudentGoal, value: int, day: dt.date = DAY, **values: Any) -> DataTaken:
    """A point as a phone sends it."""
    return DataTaken(values.pop("client_id", None) or uuid.uuid4(), goal, day, Decimal(value), **values)


def test_a_goal_is_read_as_it_is_typed(cast: Cast) -> None:
    """What is filled in beside the text counts instead of what was read."""
    goal = typed(cast, "Given a cue, will catch a ball in 4 of 5 trials over 3 sessions.", baseline=Decimal(1))
    assert goal_words(goal) == "at least 4 of 5 trials, in 3 sessions in a row"
    assert (goal.baseline, goal.condition) == (Decimal(1), "Given a cue")
    assert goal_words(typed(cast, "hop for 10 seconds", criterion=Decimal(12))) == "at least 12 seconds"
    rubric = typed(cast, "score a 3 on a 4-point rubric")
    assert rubric.level_names == ("Level 1", "Level 2", "Level 3", "Level 4")


def test_a_goal_that_can_not_be_read_is_kept_and_asked_about(cast: Cast) -> None:
    """As it was typed, without a measure; data wait until somebody says how."""
    goal = typed(cast, "Will enjoy moving with others.")
    assert (goal.text, goal.measure, goal_words(goal)) == ("Will enjoy moving with others.", "", "")
    with pytest.raises(ApplicationError) as refused:
        data_take(actor=cast.teacher, taken=taken(goal, 1), now=NOW)
    assert refused.value.code == "goal_not_read"
    goal_save(actor=cast.teacher, row=goal, values={"measure": "count", "criterion": Decimal(5)})
    assert data_take(actor=cast.teacher, taken=taken(goal, 1), now=NOW).value == 1


def test_of_two_readings_one_is_chosen(cast: Cast) -> None:
    """Until then neither holds; what isn't among them is refused."""
    goal = typed(cast, "run 400 meters in 3 minutes")
    assert goal.measure == ""
    readings = goal_story(goal, DAY).readings
    assert set(readings) == {"at most 180 seconds", "at least 400 m"}
    with pytest.raises(ValidationError):
        goal_read(actor=cast.teacher, row=goal, reading="at least 5 laps")
    goal_read(actor=cast.teacher, row=goal, reading="at most 180 seconds")
    assert (goal.measure, goal.wanted, goal.criterion) == ("seconds", "less", Decimal(180))


def test_a_point_sent_twice_is_stored_once(cast: Cast) -> None:
    """Under its own id; under the same id with something else it is refused."""
    goal = make_goal(cast.student)
    point = taken(goal, 3, marks="11010")
    first = data_take(actor=cast.teacher, taken=point, now=NOW)
    assert data_take(actor=cast.teacher, taken=point, now=NOW) == first
    with pytest.raises(ApplicationError) as refused:
        data_take(actor=cast.teacher, taken=taken(goal, 4, client_id=point.client_id), now=NOW)
    assert (refused.value.code, DataPoint.objects.count()) == ("client_id_used", 1)


def test_two_people_at_once_are_both_kept(cast: Cast) -> None:
    """One goal, one day, one session: two points, each with who took it."""
    goal, session = make_goal(cast.student), uuid.uuid4()
    data_take(actor=cast.teacher, taken=taken(goal, 3, session_uid=session), now=NOW)
    data_take(actor=cast.coordinator, taken=taken(goal, 2, session_uid=session, taken_by_name="Bea, aide"), now=NOW)
    story = goal_story(goal, DAY)
    assert [(one.words, one.who) for one in story.points] == [
        ("2 of 5 trials", "Bea, aide"),
        ("3 of 5 trials", str(cast.teacher)),
    ]


def test_data_for_a_goal_that_has_ended_are_refused_clearly(cast: Cast) -> None:
    """With the day on which it ended and what to do; on that day itself they are kept."""
    goal = make_goal(cast.student)
    goal_end(actor=cast.teacher, row=goal, values={"ended_on": DAY - dt.timedelta(days=1), "ended_why": "Replaced"})
    with pytest.raises(ApplicationError) as refused:
        data_take(actor=cast.teacher, taken=taken(goal, 3), now=NOW)
    assert refused.value.code == "goal_ended"
    assert "ended on November 29, 2026" in refused.value.message
    assert data_take(actor=cast.teacher, taken=taken(goal, 3, DAY - dt.timedelta(days=1)), now=NOW).value == 3
    goal_reopen(actor=cast.teacher, row=goal)
    assert data_take(actor=cast.teacher, taken=taken(goal, 3), now=NOW).value == 3
    with pytest.raises(ValidationError) as late:
        goal_end(actor=cast.teacher, row=goal, values={"ended_on": DAY - dt.timedelta(days=1)})
    assert set(late.value.message_dict) == {"ended_on"}, "data were taken after it"


@pytest.mark.parametrize(
    ("goal", "point", "field"),
    [
        ({}, {"value": 6}, "value"),
        ({}, {"value": 3, "marks": "0000"}, "marks"),
        ({"measure": "percent", "criterion": 80, "trials": None}, {"value": 101}, "value"),
        ({"measure": "prompt", "criterion": 5, "trials": None}, {"value": 7}, "value"),
        ({"measure": "prompt", "criterion": 5, "trials": None}, {"value": 0}, "value"),
        ({}, {"value": 3, "day": DAY + dt.timedelta(days=1)}, "day"),
    ],
)
def test_a_figure_that_can_not_be_is_refused_at_its_field(
    cast: Cast, goal: dict[str, Any], point: dict[str, Any], field: str
) -> None:
    """Nothing is stored."""
    row = make_goal(cast.student, **{"baseline": None, **goal})
    with pytest.raises(ValidationError) as refused:
        data_take(actor=cast.teacher, taken=taken(row, **point), now=NOW)
    assert set(refused.value.message_dict) == {field}
    assert not DataPoint.objects.exists()


def test_several_points_are_stored_all_or_none(cast: Cast) -> None:
    """As an import brings them."""
    goal = make_goal(cast.student)
    with pytest.raises(ValidationError):
        data_import(actor=cast.teacher, taken=[taken(goal, 3), taken(goal, 9)], now=NOW)
    assert not DataPoint.objects.exists()
    assert len(data_import(actor=cast.teacher, taken=[taken(goal, 3), taken(goal, 4)], now=NOW)) == 2


def test_a_point_taken_back_counts_no_longer_until_it_counts_again(cast: Cast) -> None:
    """Twice has no effect; who did it is kept and audited."""
    goal = make_goal(cast.student)
    point = data_take(actor=cast.teacher, taken=taken(goal, 3), now=NOW)
    for _ in range(2):
        data_undo(actor=cast.teacher, row=point)
    point.refresh_from_db()
    assert point.undone_by == cast.teacher
    assert AuditEntry.objects.filter(action="data_undo").count() == 1
    assert (len(goal_story(goal, DAY).points), len(goal_story(goal, DAY).undone)) == (0, 1)
    data_restore(actor=cast.teacher, row=point)
    assert len(goal_story(goal, DAY).points) == 1


def test_who_may_not_see_the_student_takes_no_data(cast: Cast) -> None:
    """Another teacher finds nothing, an office may not."""
    goal = make_goal(cast.student)
    for actor, status in ((cast.mate, 404), (cast.stranger, 404), (cast.office, 403)):
        with pytest.raises(ApplicationError) as refused:
            data_take(actor=actor, taken=taken(goal, 3), now=NOW)
        assert refused.value.status == status


def test_what_a_point_stands_for_does_not_change_under_data(cast: Cast) -> None:
    """The measure stays once data are there; a goal with data isn't deleted."""
    goal = make_goal(cast.student)
    make_point(goal, DAY, 3, cast.teacher)
    with pytest.raises(ValidationError) as refused:
        goal_save(actor=cast.teacher, row=goal, values={"measure": "percent"})
    assert set(refused.value.message_dict) == {"measure"}
    goal.refresh_from_db()
    with pytest.raises(ApplicationError) as used:
        goal_delete(actor=cast.teacher, row=goal)
    assert used.value.code == "still_used"


def test_rules_hold_from_their_day(cast: Cast) -> None:
    """Days before keep theirs; without any, what ships with the program."""
    assert goal_rules_on(cast.district, DAY).decision_rule == "four_points"
    first = {"first_day": DAY, "decision_rule": "three_days", "days_without_data": 21}
    row = goal_rules_save(actor=cast.coordinator, row=GoalRules(district=cast.district), values=first)
    assert goal_rules_on(cast.district, DAY).days_without_data == 21
    assert goal_rules_on(cast.district, DAY - dt.timedelta(days=1)).days_without_data == 14
    with pytest.raises(ApplicationError):
        goal_rules_save(actor=cast.teacher, row=row, values={"days_without_data": 30})
    with pytest.raises(ApplicationError) as refused:
        goal_rules_delete(actor=cast.coordinator, row=row)
    assert refused.value.code == "only_rules"


def test_goals_without_data_wait_after_the_districts_days(cast: Cast) -> None:
    """From the last day with data, or the goal's first; the oldest first."""
    old, bare = make_goal(cast.student), make_goal(cast.student, start=DAY - dt.timedelta(days=15))
    make_goal(cast.student, start=DAY - dt.timedelta(days=14))
    fresh = make_goal(cast.student)
    make_point(old, DAY - dt.timedelta(days=20), 3, cast.teacher)
    make_point(fresh, DAY - dt.timedelta(days=14), 3, cast.teacher)
    waiting = goals_waiting([cast.student.pk], day=DAY, days=14)
    assert [(one.goal, one.last) for one in waiting] == [(old, DAY - dt.timedelta(days=20)), (bare, None)]


def test_the_story_says_what_the_data_say(cast: Cast) -> None:
    """Steady data of ten weeks: the trend, when the criterion is reached, the last points, missed sessions."""
    goal = make_goal(cast.student, criterion=5, baseline=0, end=START + dt.timedelta(days=200))
    for week in range(10):
        tried = 5 if week % 2 else 10
        make_point(goal, START + dt.timedelta(days=7 * week), week * tried / 20, cast.teacher, tried=tried)
    log_line(cast, START + dt.timedelta(days=3))
    log_line(cast, START + dt.timedelta(days=10), outcome=Outcome(reason="student_absent"))
    story = goal_story(goal, START + dt.timedelta(days=70))
    told = " ".join(story.sentences)
    assert "Rising by about 0.25 of 5 trials a week" in told, "sets of ten compare with sets of five"
    assert "At this rate the criterion is reached about" in told
    assert "The last four points all lie beyond the aim line" in told
    assert story.missed == (START + dt.timedelta(days=10),)
    assert story.chart is not None
    assert len(story.chart.points) == 10


def test_a_phase_change_begins_a_trend_of_its_own(cast: Cast) -> None:
    """Six days before it and two after: too few to say, with how many are wanted."""
    goal = make_goal(cast.student)
    for day in (0, 2, 4, 7, 9, 11, 16, 18):
        make_point(goal, START + dt.timedelta(days=day), 3, cast.teacher)
    today = START + dt.timedelta(days=20)
    assert not isinstance(goal_story(goal, today).trend, TooFew)
    values = {"day": START + dt.timedelta(days=14), "words": "A larger ball"}
    phase_change_save(actor=cast.teacher, row=PhaseChange(goal=goal), values=values)
    story = goal_story(goal, today)
    assert story.trend == TooFew(3)
    assert any("3 more days with data are wanted" in one for one in story.sentences)
    assert story.chart is not None
    assert len(story.chart.joins) == 6, "five before the change and one after, none across it"
    early = {"day": START - dt.timedelta(days=1), "words": "Before"}
    with pytest.raises(ValidationError):
        phase_change_save(actor=cast.teacher, row=PhaseChange(goal=goal), values=early)


def test_data_that_are_sent_later_keep_the_time_when_they_were_taken(cast: Cast) -> None:
    goal, seen = make_goal(cast.student), NOW - dt.timedelta(hours=9)
    point = data_take(actor=cast.teacher, taken=taken(goal, 4, taken_at=seen), now=NOW)
    assert point.taken_at == seen
    ahead = taken(goal, 4, taken_at=NOW + dt.timedelta(hours=1))
    with pytest.raises(ValidationError, match="clock may be wrong"):
        data_take(actor=cast.teacher, taken=ahead, now=NOW)
