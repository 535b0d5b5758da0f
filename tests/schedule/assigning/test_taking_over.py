"""A proposal taken over from its first day on, and taken back whole. Common practice, no source."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.plans.enrollment.selectors import caseload_teachers_on
from caseload.plans.models import ServiceLine, Student
from caseload.plans.services import caseload_assign, service_change
from schedule.assigning.models import AssigningProposal
from schedule.assigning.selectors.standing import proposal_get
from schedule.assigning.services.asked import proposal_take_over_ask
from schedule.assigning.services.by_hand import proposal_move
from schedule.assigning.services.taking_over import (
    CHANGED,
    proposal_take_back,
    proposal_take_over,
    proposal_taking_foreseen,
)
from tests.conftest import Cast
from tests.schedule.assigning.ground import BEFORE, DAY, first_of, make_crossed, proposed
from tests.schedule.assigning.test_by_hand import unit_of
from tests.schedule.long_steps.work import steps_done

ONE_DAY = dt.timedelta(days=1)
WITH_TODAY = {"N1": "teacher", "N2": "mate", "N3": "mate", "S1": "teacher", "S2": "teacher"}
WITH_LEAST = {"N1": "teacher", "N2": "teacher", "N3": "teacher", "S1": "mate", "S2": "mate"}


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Each teacher has students at the other's end of the road."""
    return make_crossed(cast)


@pytest.fixture
def least(ground: Cast) -> AssigningProposal:
    """The proposal without driving: the north with the teacher, the south with the mate."""
    return first_of(proposed(ground))


def serving(day: dt.date) -> dict[str, str]:
    """Who provides each student's service on a day."""
    rows = ServiceLine.objects.filter(start__lte=day, end__gte=day)
    return dict(rows.values_list("plan__student__code", "provider__username"))


def on_caseloads(day: dt.date) -> dict[str, int]:
    """On whose caseload each student is on a day."""
    codes = dict(Student.objects.values_list("pk", "code"))
    return {codes[pk]: teacher for pk, teacher in caseload_teachers_on(codes, day).items()}


def test_students_go_over_on_the_first_day_and_nothing_before_changes(
    ground: Cast, least: AssigningProposal
) -> None:
    given = proposal_take_over(actor=ground.coordinator, row=least, now=BEFORE)
    assert [(str(one.giver), str(one.receiver), len(one.students)) for one in given] == [
        ("Mate Vey", "Teacher Vey", 2),
        ("Teacher Vey", "Mate Vey", 2),
    ]
    assert serving(DAY - ONE_DAY) == WITH_TODAY
    assert serving(DAY) == WITH_LEAST
    names = {"teacher": ground.teacher.pk, "mate": ground.mate.pk}
    assert on_caseloads(DAY) == {code: names[who] for code, who in WITH_LEAST.items()}
    assert on_caseloads(DAY - ONE_DAY) == {code: names[who] for code, who in WITH_TODAY.items()}
    row = proposal_get(ground.coordinator, least.pk)
    assert row.is_taken
    assert row.taken_by == ground.coordinator


def test_it_is_taken_back_whole(ground: Cast, least: AssigningProposal) -> None:
    proposal_take_over(actor=ground.coordinator, row=least, now=BEFORE)
    proposal_take_back(actor=ground.coordinator, row=least)
    assert serving(DAY) == WITH_TODAY
    assert ServiceLine.objects.count() == len(WITH_TODAY)
    assert not proposal_get(ground.coordinator, least.pk).is_taken
    with pytest.raises(ApplicationError) as caught:
        proposal_take_back(actor=ground.coordinator, row=least)
    assert caught.value.code == "nothing_to_undo"
    # And it can be taken over again.
    proposal_take_over(actor=ground.coordinator, row=least, now=BEFORE)
    assert serving(DAY) == WITH_LEAST


def test_it_is_shown_first_and_nothing_saved_by_that(ground: Cast, least: AssigningProposal) -> None:
    entries = AuditEntry.objects.count()
    given = proposal_taking_foreseen(actor=ground.coordinator, row=least, now=BEFORE)
    assert sum(len(one.students) for one in given) == 4
    assert serving(DAY) == WITH_TODAY
    assert AuditEntry.objects.count() == entries
    assert not least.is_taken


def test_nothing_is_taken_back_where_a_service_changed_since(ground: Cast, least: AssigningProposal) -> None:
    """All or none: the other three stay handed over, too."""
    proposal_take_over(actor=ground.coordinator, row=least, now=BEFORE)
    line = ServiceLine.objects.get(plan__student__code="N2", start=DAY)
    day = DAY + dt.timedelta(days=14)
    values = {"statement": "1 x 30 min/week"}
    service_change(actor=ground.coordinator, row=line, from_day=day, values=values, seen=None)
    before = serving(DAY)
    with pytest.raises(ApplicationError) as caught:
        proposal_take_back(actor=ground.coordinator, row=least)
    assert caught.value.code == "changed_since"
    assert serving(DAY) == before == WITH_LEAST
    assert proposal_get(ground.coordinator, least.pk).is_taken


def test_who_is_with_somebody_else_by_then_is_left_out_and_named(ground: Cast, least: AssigningProposal) -> None:
    line = ServiceLine.objects.get(plan__student__code="N2")
    ServiceLine.objects.filter(pk=line.pk).update(provider=ground.coordinator)
    line.plan.student.assignments.update(teacher=ground.coordinator)
    given = proposal_taking_foreseen(actor=ground.coordinator, row=least, now=BEFORE)
    assert [one.code for one in given[0].gone] == ["N2"]
    assert [one.code for one in given[0].students] == ["N3"]


def test_after_an_absence_they_go_back(ground: Cast) -> None:
    """Twelve weeks: the mate's two students are with the teacher, then again with the mate; taken back whole."""
    last = DAY + dt.timedelta(weeks=12) - ONE_DAY
    row = first_of(proposed(ground, question="away", leaver=ground.mate, last_day=last))
    proposal_take_over(actor=ground.coordinator, row=row, now=BEFORE)
    away = dict.fromkeys(WITH_TODAY, "teacher")
    assert [serving(day) for day in (DAY - ONE_DAY, DAY, last, last + ONE_DAY)] == [
        WITH_TODAY, away, away, WITH_TODAY
    ]  # fmt: skip
    assert on_caseloads(last + ONE_DAY)["N2"] == ground.mate.pk
    proposal_take_back(actor=ground.coordinator, row=row)
    assert serving(DAY) == WITH_TODAY
    assert ServiceLine.objects.count() == len(WITH_TODAY)


def test_a_caseload_that_was_the_receivers_stays_theirs(ground: Cast) -> None:
    """N2 is on the teacher's caseload already; only the mate's service goes over, and comes back."""
    student = Student.objects.get(code="N2")
    caseload_assign(actor=ground.coordinator, student=student, teacher=ground.teacher, from_day=DAY - ONE_DAY)
    last = DAY + dt.timedelta(weeks=12) - ONE_DAY
    row = first_of(proposed(ground, question="away", leaver=ground.mate, last_day=last))
    proposal_take_over(actor=ground.coordinator, row=row, now=BEFORE)
    assert serving(last + ONE_DAY) == WITH_TODAY
    assert on_caseloads(last + ONE_DAY)["N2"] == ground.teacher.pk


def test_what_is_refused(ground: Cast, least: AssigningProposal) -> None:
    post = proposed(ground, question="post", bases=[ground.south])
    stays = proposed(ground, staying=[ground.teacher.caseload.get(code="S1")]).proposals.get(position=1)
    broken = proposal_move(
        actor=ground.coordinator, row=stays, units=[unit_of(stays, "S1")], to=str(ground.mate.pk)
    )
    ask = {"actor": ground.coordinator, "row": least, "now": BEFORE}
    on_the_day = dt.datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=dt.UTC)
    for code, changed in (
        ("not_for_your_role", {"actor": ground.teacher}),
        ("as_today", {"row": least.run.proposals.get(position=0)}),
        ("post_not_filled", {"row": first_of(post)}),
        ("first_day_over", {"now": on_the_day}),
        ("breaks_rules", {"row": broken}),
    ):
        with pytest.raises(ApplicationError) as caught:
            proposal_take_over(**{**ask, **changed})  # type: ignore[arg-type]
        assert caught.value.code == code
    assert serving(DAY) == WITH_TODAY
    proposal_take_over(**ask)  # type: ignore[arg-type]
    for act in (proposal_take_over, proposal_taking_foreseen):
        with pytest.raises(ApplicationError) as caught:
            act(actor=ground.coordinator, row=least, now=BEFORE)
        assert caught.value.code == "taken_over"


def test_one_that_is_changed_before_it_is_taken_over_is_not(ground: Cast, least: AssigningProposal) -> None:
    """What is handed over is what was seen when it was asked for."""
    step = proposal_take_over_ask(actor=ground.coordinator, row=least, now=BEFORE)
    AssigningProposal.objects.filter(pk=least.pk).update(revision=least.revision + 1)
    steps_done()
    assert serving(DAY) == WITH_TODAY
    step.refresh_from_db()
    assert step.refused["messages"] == [CHANGED]
