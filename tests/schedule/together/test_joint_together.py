"""Two teachers planned together hold what they give together at one time, in one place.

What holds of a joint session is what docs/together.md says; no outside source.
"""

import pytest

from jobs.runner import run_job
from schedule.joint.models import JointService
from schedule.together.models import TogetherPlan
from schedule.together.selectors import together_get
from schedule.together.services import together_plan_start, together_publish
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.told.joint import joint_seen
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date
from tests.schedule.joint.test_joint_planned import given_together, line_of, moments
from tests.schedule.together.test_planned_together import BEFORE
from tests.schedule.weeks.planning.two_teachers import make_two_teachers


@pytest.fixture
def agreed(cast: Cast) -> JointService:
    """Two teachers who each have S01 twice a week, the mate in Room 9 alone; one session a week is joint."""
    make_two_teachers(cast)
    return given_together(cast)


def planned_together(cast: Cast) -> TogetherPlan:
    """A plan of both, worked by its job."""
    row = together_plan_start(
        actor=cast.coordinator, teachers=[cast.teacher, cast.mate], monday=date(2), time_limit=1, now=BEFORE
    )
    run_job(row.job_id)
    row = together_get(cast.coordinator, row.pk)
    assert row.job.state == "done", row.job.error
    return row


def drafts(cast: Cast) -> tuple[WeekPlan, WeekPlan]:
    """The teacher's and the mate's."""
    mine, theirs = (WeekPlan.objects.get(teacher=one, status="draft") for one in (cast.teacher, cast.mate))
    return mine, theirs


def test_both_hold_what_is_joint_and_publish(cast: Cast, agreed: JointService) -> None:
    row = planned_together(cast)
    mine, theirs = drafts(cast)
    assert (len(moments(mine)), len(moments(theirs))) == (2, 2)
    assert moments(mine) & moments(theirs)
    assert [joint_seen(week).apart for week in (mine, theirs)] == [(), ()]
    assert together_publish(actor=cast.coordinator, row=row) == 2
    assert WeekPlan.objects.filter(status="published", monday=MONDAY).count() == 2


def test_rooms_without_anything_in_common_leave_each_alone(cast: Cast, agreed: JointService) -> None:
    """The mate has Room 9 alone, the teacher the gym: the drafts say so."""
    line_of(cast, cast.teacher).allowed_spaces.set([cast.gym])
    planned_together(cast)
    mine, theirs = drafts(cast)
    assert {space for *_, space in moments(mine)} == {"Gym"}
    assert {space for *_, space in moments(theirs)} == {"Room 9"}
    assert "no time, length and place in common" in str(mine.figures["notes"])
