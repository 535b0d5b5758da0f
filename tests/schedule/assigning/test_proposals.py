"""Proposals who serves whom: what is asked, what is found, what each figure says. Common practice, no source."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from accounts.errors import ApplicationError
from jobs.models import Job
from schedule.assigning.kept import question_kept, question_read
from schedule.assigning.models import AssigningRun, TeacherPost
from schedule.assigning.selectors.loading import staffing_load
from schedule.assigning.selectors.shown import assigning_view, proposal_view
from schedule.assigning.selectors.standing import proposal_get, run_get
from schedule.assigning.services.posts import post_save
from schedule.assigning.services.runs import assigning_start, assigning_stop
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.assigning.ground import BEFORE, DAY, first_of, make_crossed, proposed, with_teacher
from tests.schedule.builders import make_line


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Each teacher has students at the other's end of the road."""
    return make_crossed(cast)


def test_least_driving_gives_each_teacher_the_school_at_the_own_base(ground: Cast) -> None:
    """Nobody has to drive then: with bases in both schools and every session in one of them, 0 is the least."""
    row = proposed(ground)
    assert row.job.state == Job.State.DONE, row.job.error
    least = first_of(row)
    assert with_teacher(least, ground.teacher) == {"N1", "N2", "N3"}
    assert with_teacher(least, ground.mate) == {"S1", "S2"}
    view = assigning_view(ground.coordinator, row)
    today, found = view.proposals[:2]
    assert today.is_today
    assert today.driving > 0
    assert (found.driving, found.more_driving, found.miles) == (0, -today.driving, Decimal(0))
    # Five students, twice 30 minutes each.
    assert [(one.fits, one.does_not_fit) for one in (today, found)] == [(300, 0), (300, 0)]
    assert (today.changes, found.changes) == (0, 4)
    assert (today.most_buildings, found.most_buildings) == (2, 1)
    assert [one.teacher for one in found.teachers] == ["Mate Vey", "Teacher Vey"]


def test_nothing_changes_by_a_question(ground: Cast) -> None:
    before = list(ground.teacher.service_lines.values_list("pk", flat=True))
    proposed(ground)
    assert list(ground.teacher.service_lines.values_list("pk", flat=True)) == before


def test_students_who_stay_and_buildings_that_are_out(ground: Cast) -> None:
    """Hard rules hold in every proposal: S1 stays, and the teacher never goes to the south otherwise either."""
    stays = ground.teacher.caseload.get(code="S1")
    row = proposed(ground, staying=[stays])
    for one in row.proposals.exclude(position=0):
        assert "S1" in with_teacher(one, ground.teacher)
        assert one.now["record"]["broken"] == []


def test_a_field_is_never_left(ground: Cast) -> None:
    """A teacher of vision gets nobody of physical education, and the other way round."""
    for teacher, field in ((ground.teacher, "Adapted physical education"), (ground.mate, "Vision")):
        post = TeacherPost(teacher=teacher)
        post_save(
            actor=ground.coordinator, row=post, values={"first_day": DAY - dt.timedelta(days=7), "field": field}
        )
    row = proposed(ground)
    for one in row.proposals.all():
        assert with_teacher(one, ground.teacher) == {"N1", "S1", "S2"}
        assert one.now["changes"] == 0


def test_what_a_post_says_reaches_the_question(ground: Cast) -> None:
    """60 percent of 35 hours are 1260 minutes; of these lunch and preparation of three days go off."""
    post_save(
        actor=ground.coordinator,
        row=TeacherPost(teacher=ground.mate),
        values={"first_day": DAY, "share": 60, "base": ground.north, "not_at": [ground.south]},
    )
    question = staffing_load(ground.district, [ground.mate, ground.teacher], DAY, ground.coordinator).question
    mate = question.teacher(str(ground.mate.pk))
    assert mate.most_minutes == 1260 - 3 * (30 + 30)
    assert (mate.base, {day.start_place for day in mate.days}) == ("NORTH", {"NORTH"})
    assert mate.not_places == {"SOUTH"}
    assert question.teacher(str(ground.teacher.pk)).most_minutes is None
    earlier = staffing_load(
        ground.district, [ground.mate], DAY - dt.timedelta(days=14), ground.coordinator
    ).question
    assert earlier.teacher(str(ground.mate.pk)).most_minutes is None


def test_the_question_is_kept_whole(ground: Cast) -> None:
    """A question read back from plain values is the same question."""
    question = staffing_load(ground.district, [ground.mate, ground.teacher], DAY, ground.coordinator).question
    assert question_read(question_kept(question)) == question


def test_what_is_refused(ground: Cast) -> None:
    both = [ground.teacher, ground.mate]
    ask = {"actor": ground.coordinator, "teachers": both, "first_day": DAY, "now": BEFORE}
    for code, changed in (
        ("not_for_your_role", {"actor": ground.teacher}),
        ("two_teachers", {"teachers": [ground.teacher]}),
        ("first_day_over", {"first_day": dt.date(2026, 9, 8)}),
        ("who_leaves", {"question": "leaves"}),
        ("until_when", {"question": "away", "leaver": ground.mate}),
        ("until_when", {"question": "away", "leaver": ground.mate, "last_day": DAY - dt.timedelta(days=1)}),
        ("which_bases", {"question": "post"}),
        ("search_minutes", {"minutes": 11}),
        ("post_share", {"question": "post", "bases": [ground.north], "share": 101}),
        ("no_school_year", {"first_day": dt.date(2028, 1, 3)}),
    ):
        with pytest.raises(ApplicationError) as caught:
            assigning_start(**{**ask, **changed})  # type: ignore[arg-type]
        assert caught.value.code == code
    assert AssigningRun.objects.count() == 0


def test_a_teacher_without_rules_is_named(ground: Cast) -> None:
    ground.mate.rules.delete()
    with pytest.raises(ApplicationError) as caught:
        proposed(ground)
    assert str(ground.mate) in caught.value.message


def test_stopping_keeps_what_is_there(ground: Cast) -> None:
    row = assigning_start(
        actor=ground.coordinator, teachers=[ground.teacher, ground.mate], first_day=DAY, minutes=1, now=BEFORE
    )
    assigning_stop(actor=ground.coordinator, row=row)
    view = assigning_view(ground.coordinator, run_get(ground.coordinator, row.pk))
    assert view.is_over
    assert view.proposals == ()


def test_students_without_minutes_that_week_stay_or_go_to_who_has_their_school(ground: Cast) -> None:
    """A service by the year owes nothing in most weeks; its student is given with the others."""
    line = make_line(ground, "Y1", building=ground.south, teacher=ground.mate)
    line.plan.lines.update(end=dt.date(2026, 9, 30))
    row = proposed(ground, question="leaves", leaver=ground.mate)
    student = str(line.plan.student_id)
    assert row.proposals.get(position=0).now["riders"] == {student: str(ground.mate.pk)}
    assert first_of(row).now["riders"] == {student: str(ground.teacher.pk)}


# ---- what if --------------------------------------------------------------------------------------------------


def test_a_teacher_who_leaves_has_nobody(ground: Cast) -> None:
    row = proposed(ground, question="leaves", leaver=ground.mate)
    view = assigning_view(ground.coordinator, row)
    assert view.words == "A teacher leaves: Mate Vey"
    assert [one.teacher for one in view.proposals[0].teachers] == ["Mate Vey", "Teacher Vey"]
    assert [one.teacher for one in view.proposals[1].teachers] == ["Teacher Vey"]
    assert with_teacher(first_of(row), ground.teacher) == {"N1", "N2", "N3", "S1", "S2"}
    assert view.proposals[1].changes == 2


def test_whom_nobody_may_have_is_said_with_the_reason(ground: Cast) -> None:
    """The only teacher of vision leaves."""
    for teacher, field in ((ground.teacher, "Adapted physical education"), (ground.mate, "Vision")):
        values = {"first_day": DAY - dt.timedelta(days=7), "field": field}
        post_save(actor=ground.coordinator, row=TeacherPost(teacher=teacher), values=values)
    row = first_of(proposed(ground, question="leaves", leaver=ground.mate))
    view = proposal_view(ground.coordinator, row, BEFORE.date())
    assert view.nobody_because == ("No teacher has a license for vision.",)
    assert [(place.students, place.minutes) for place in view.nobodys] == [(2, 120)]
    page = signed_in(ground.coordinator).get(reverse("assigning_proposal", args=[row.pk])).content.decode()
    assert "No teacher has a license for vision." in page


def test_the_base_that_saves_most_driving_comes_first(ground: Cast) -> None:
    """With both teachers' bases north and all their students south, a post in the south leaves nobody driving."""
    ground.mate.rules.start_place = ground.mate.rules.end_place = ground.north
    ground.mate.rules.save()
    for code in ("N1", "N2", "N3"):
        student = ground.north.students.get(code=code)
        student.enrollments.update(building=ground.south)
        student.building = ground.south
        student.save()
    row = proposed(ground, question="post", bases=[ground.north, ground.south])
    view = assigning_view(ground.coordinator, row)
    assert [one.title for one in view.proposals] == [
        "As today", "New post at South Hollow School", "New post at North Hollow School"
    ]  # fmt: skip
    assert view.proposals[1].driving == 0
    assert view.proposals[2].driving > 0
    assert [one.teacher for one in view.proposals[1].teachers][-1] == "New post"


# ---- seen by --------------------------------------------------------------------------------------------------


def test_nobody_else_sees_it(ground: Cast) -> None:
    row = proposed(ground)
    for viewer in (ground.teacher, ground.mate, ground.office, ground.stranger):
        with pytest.raises(ApplicationError):
            run_get(viewer, row.pk)
        with pytest.raises(ApplicationError):
            proposal_get(viewer, first_of(row).pk)


def test_no_name_of_a_student_is_kept(ground: Cast) -> None:
    """The builders' students are all called Ilsabet Quernmore."""
    row = proposed(ground)
    kept = f"{row.asked}{[(one.found, one.now) for one in row.proposals.all()]}"
    assert "Ilsabet" not in kept
    assert "Quernmore" not in kept
    shown = proposal_view(ground.coordinator, first_of(row), DAY)
    assert "Quernmore" in shown.teachers[0].buildings[0].units[0].students[0].name
