"""What a week in force breaks because of what is known since, such as a longer drive, holds no edit of it back."""

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.plans.naming import unmarked
from schedule.weeks.models import WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_move
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_ground, make_line, make_week
from travel.drives.models import OwnDriveTime


@pytest.fixture
def in_force(cast: Cast) -> WeekPlan:
    """S01 at 9:20 on Monday and Wednesday in the north, F1 at 13:15 on Monday in the south: in force."""
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    own = f"line-{cast.line.pk}"
    week = make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20"), (f"line-{far.pk}", date(0), "13:15")])
    return week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)


@pytest.fixture
def longer(cast: Cast, in_force: WeekPlan) -> None:
    """Since it came into force, the drive south is known to take from 9:50 until after 13:15."""
    OwnDriveTime.objects.create(
        district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south, minutes=230
    )


def moved(cast: Cast, week: WeekPlan, weekday: int, clock: str, to: int) -> WeekPlan:
    session = week.sessions.get(date=date(weekday), start=at(clock))
    return week_session_move(
        actor=cast.teacher,
        week=week,
        uid=session.uid,
        date=date(to),
        start=at("10:10"),
        expected_revision=week.revision,
    )


def publish(cast: Cast, draft: WeekPlan) -> WeekPlan:
    return week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)


def test_another_day_can_be_changed_and_published(
    cast: Cast, in_force: WeekPlan, longer: None, client: Client
) -> None:
    draft = moved(cast, in_force, 2, "9:20", 3)
    assert draft.figures["broken"] == []
    told = [unmarked(one) for one in draft.figures["no_longer_fits"]]
    assert told
    assert all(one.startswith("Monday") for one in told)
    client.force_login(cast.teacher)
    page = client.get(reverse("week_compare", args=[draft.pk])).content.decode()
    assert "Publish this week" in page
    assert "No longer fits, in the week in force as well" in page
    published = publish(cast, draft)
    assert published.status == "published"
    # It goes on saying so, and a change of the next draft isn't held back either.
    assert published.figures["no_longer_fits"] == draft.figures["no_longer_fits"]
    assert publish(cast, moved(cast, published, 3, "10:10", 4)).status == "published"


def test_what_the_draft_breaks_itself_is_refused(cast: Cast, in_force: WeekPlan, longer: None) -> None:
    """Wednesday's session comes to Monday, where S01 has one already."""
    draft = moved(cast, in_force, 2, "9:20", 0)
    assert draft.figures["broken"]
    assert not set(draft.figures["broken"]) & set(draft.figures["no_longer_fits"])
    with pytest.raises(ApplicationError) as caught:
        publish(cast, draft)
    assert caught.value.code == "rules_broken"


def test_mended_it_says_nothing_anymore(cast: Cast, in_force: WeekPlan, longer: None) -> None:
    draft = moved(cast, in_force, 0, "9:20", 3)
    assert (draft.figures["broken"], draft.figures["no_longer_fits"]) == ([], [])
    assert publish(cast, draft).status == "published"


def test_a_first_draft_is_refused_as_before(cast: Cast, in_force: WeekPlan, longer: None) -> None:
    """A draft that was made from no week in force answers for all it breaks."""
    draft = moved(cast, in_force, 2, "9:20", 3)
    WeekPlan.objects.filter(pk=draft.pk).update(based_on=None)
    draft.refresh_from_db()
    with pytest.raises(ApplicationError) as caught:
        publish(cast, draft)
    assert caught.value.code == "rules_broken"
