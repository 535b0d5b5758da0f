"""What if classes move to another building, perhaps one where nobody is served yet. Common practice, no source."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from caseload.plans.models import SchoolClass, Student
from jobs.models import Job
from schedule.assigning.asking import moved, services_moving
from schedule.assigning.models import AssigningRun
from schedule.assigning.selectors.loading import staffing_load
from schedule.assigning.selectors.shown import assigning_view, proposal_view
from schedule.assigning.selectors.standing import proposal_get
from schedule.assigning.services.runs import assigning_start
from schedule.assigning.services.taking_over import proposal_take_over
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.assigning.ground import BEFORE, DAY, first_of, make_crossed, proposed
from tests.schedule.weeks.test_week_pages import client_of, page
from travel.places.models import Building


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Both of the teacher's students in the south are of one class there; the teacher's base is north."""
    make_crossed(cast)
    room = SchoolClass.objects.create(building=cast.south, code="S7", name="Room S7")
    Student.objects.filter(district=cast.district, code__in=["S1", "S2"]).update(home_class=room)
    return cast


def room_of(cast: Cast) -> SchoolClass:
    return SchoolClass.objects.get(building=cast.south, code="S7")


def moving(cast: Cast, goal: Building) -> AssigningRun:
    return proposed(cast, question="moves", classes=[room_of(cast)], moving_to=goal)


def test_a_class_that_moves_to_the_base_saves_its_teachers_driving(ground: Cast) -> None:
    """The teacher drove south for that class alone, so moved north nothing is left of it; the mate's stays."""
    row = moving(ground, ground.north)
    assert row.job.state == Job.State.DONE, row.job.error
    view = assigning_view(ground.coordinator, row)
    today, moved_there = view.proposals[:2]
    assert moved_there.title == "Moved, with today's teachers"
    assert (today.changes, moved_there.changes) == (0, 0)
    by_name = {
        one.teacher: (one.driving, other.driving)
        for one, other in zip(today.teachers, moved_there.teachers, strict=True)
    }
    before, after = by_name["Teacher Vey"]
    assert before > 0
    assert after == 0
    mates_before, mates_after = by_name["Mate Vey"]
    assert mates_before == mates_after
    assert moved_there.more_driving == -before
    assert len(view.proposals) == 5


def test_a_building_in_which_nobody_is_served_yet_counts(ground: Cast) -> None:
    """It is entered, with its place: roads to it are known, and its day is as long as the contract's."""
    new = Building.objects.create(
        district=ground.district, code="NEW", name="New Hollow School", latitude="43.300000", longitude="-75.100000"
    )
    row = moving(ground, new)
    assert row.job.state == Job.State.DONE, row.job.error
    detail = proposal_view(ground.coordinator, proposal_get(ground.coordinator, first_of(row).pk), BEFORE.date())
    [teacher] = [one for one in detail.teachers if one.figures.teacher == "Teacher Vey"]
    assert "New Hollow School" in {one.building for one in teacher.buildings}
    [today] = row.proposals.filter(position=0)
    seen = proposal_view(ground.coordinator, proposal_get(ground.coordinator, today.pk), BEFORE.date())
    assert "New Hollow School" not in {one.building for each in seen.teachers for one in each.buildings}


def test_nothing_moves_by_asking_and_none_can_be_taken_over(ground: Cast) -> None:
    row = moving(ground, ground.north)
    assert room_of(ground).building == ground.south
    for one in row.proposals.exclude(position=0):
        assert not proposal_view(
            ground.coordinator, proposal_get(ground.coordinator, one.pk), BEFORE.date()
        ).may_take_over
    last = row.proposals.last()
    assert last is not None
    with pytest.raises(ApplicationError) as caught:
        proposal_take_over(actor=ground.coordinator, row=last, now=BEFORE)
    assert caught.value.code == "classes_to_move"


def test_a_group_of_which_some_stay_stays(ground: Cast) -> None:
    question = staffing_load(ground.district, [ground.mate, ground.teacher], DAY, ground.coordinator).question
    students = [student for one in question.services for student in one.students]
    some = services_moving(question, students[:1])
    assert some == ((question.services[0].id,), ())
    changed = moved(question, some[0], "NORTH")
    assert [one.place for one in changed.services[1:]] == [one.place for one in question.services[1:]]
    assert (changed.services[0].place, changed.services[0].starts) == ("NORTH", ())


def test_what_is_refused(ground: Cast) -> None:
    empty = SchoolClass.objects.create(building=ground.south, code="S8", name="Room S8")
    both = {"actor": ground.coordinator, "teachers": [ground.teacher, ground.mate], "first_day": DAY, "now": BEFORE}
    for code, asked in (
        ("which_classes", {"moving_to": ground.north}),
        ("which_building", {"classes": [room_of(ground)]}),
        ("which_building", {"classes": [room_of(ground)], "moving_to": ground.south}),
        ("nobody_moves", {"classes": [empty], "moving_to": ground.north}),
    ):
        with pytest.raises(ApplicationError) as caught:
            assigning_start(question="moves", **{**both, **asked})  # type: ignore[arg-type]
        assert caught.value.code == code
    assert not AssigningRun.objects.exists()


def test_other_classes_while_one_question_is_looked_at_are_refused_and_not_dropped(ground: Cast) -> None:
    """The same again gives the same run; another choice says that it has to wait."""
    other = SchoolClass.objects.create(building=ground.south, code="S8", name="Room S8")
    asked = {
        "actor": ground.coordinator, "question": "moves", "teachers": [ground.teacher, ground.mate],
        "first_day": DAY, "classes": [room_of(ground)], "moving_to": ground.north, "now": BEFORE,
    }  # fmt: skip
    row = assigning_start(**asked)  # type: ignore[arg-type]
    assert assigning_start(**asked) == row  # type: ignore[arg-type]
    for changed in (
        {"classes": [room_of(ground), other]},
        {"minutes": 1},
        {"first_day": DAY + dt.timedelta(days=7)},
    ):
        with pytest.raises(ApplicationError, match="right now, with other choices") as caught:
            assigning_start(**{**asked, **changed})  # type: ignore[arg-type]
        assert caught.value.code == "under_way"
    assert AssigningRun.objects.get() == row


def test_without_a_class_the_page_says_where_they_are_added(ground: Cast) -> None:
    hint = "No class is entered yet. Add the classes under their building first."
    assert hint not in page(ground.coordinator, "assigning", question="moves")
    Student.objects.update(home_class=None)
    SchoolClass.objects.all().delete()
    assert hint in page(ground.coordinator, "assigning", question="moves")


def test_the_page_and_the_api_ask_it(ground: Cast) -> None:
    text = page(ground.coordinator, "assigning", question="moves")
    assert "Room S7 (South" in text
    ahead = dt.date(2027, 1, 11)
    both = [ground.teacher.pk, ground.mate.pk]
    client = client_of(ground.coordinator)
    answer = client.post(
        "/assigning/",
        {
            "question": "moves", "first_day": ahead, "teachers": both, "minutes": 1,
            "classes": [room_of(ground).pk], "moving_to": ground.north.pk,
        },
    )  # fmt: skip
    assert answer.status_code == 302, answer.content.decode()[:2000]
    row = AssigningRun.objects.get()
    assert (row.words, row.asked["moving_to"]) == (f"Classes move to {ground.north}", "NORTH")
    shown = Api(ground.coordinator).get("assigning-runs/")["results"][0]
    assert (shown["classes"], shown["moving_to"]) == ([room_of(ground).pk], ground.north.pk)
