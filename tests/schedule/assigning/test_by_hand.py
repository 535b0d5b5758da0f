"""Proposals changed by hand: the effect at once, undone in order. Common practice, no source."""

import pytest

from accounts.errors import ApplicationError
from schedule.assigning.models import AssigningProposal
from schedule.assigning.selectors.shown import proposal_view
from schedule.assigning.selectors.standing import ProposalStanding
from schedule.assigning.services.by_hand import proposal_move, proposal_move_undo
from tests.conftest import Cast
from tests.schedule.assigning.ground import DAY, first_of, make_crossed, proposed, with_teacher


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Each teacher has students at the other's end of the road."""
    return make_crossed(cast)


@pytest.fixture
def least(ground: Cast) -> AssigningProposal:
    """The proposal without driving: the north with the teacher, the south with the mate."""
    return first_of(proposed(ground))


def unit_of(row: AssigningProposal, code: str) -> str:
    """The key of what goes together with a student."""
    standing = ProposalStanding(row)
    labels = {one.id: one.label for one in standing.question.services}
    return next(key for key, one in standing.movables.items() if any(code in labels[each] for each in one.services))


def moved(cast: Cast, row: AssigningProposal, code: str) -> AssigningProposal:
    """With a student given to the teacher."""
    return proposal_move(actor=cast.coordinator, row=row, units=[unit_of(row, code)], to=str(cast.teacher.pk))


def test_a_move_is_priced_at_once_and_undone(ground: Cast, least: AssigningProposal) -> None:
    """One student of the south with the teacher from the north: there and back again."""
    before = least.now
    row = moved(ground, least, "S1")
    assert with_teacher(row, ground.teacher) == {"N1", "N2", "N3", "S1"}
    figures = row.now["record"]["figures"]
    assert figures["driving"] > 0
    assert figures["placed"] == before["record"]["figures"]["placed"]
    # S1 was the teacher's before: one fewer changes.
    assert row.now["changes"] == before["changes"] - 1
    undone = proposal_move_undo(actor=ground.coordinator, row=row)
    assert undone.now == before
    assert undone.moves == []
    with pytest.raises(ApplicationError) as caught:
        proposal_move_undo(actor=ground.coordinator, row=undone)
    assert caught.value.code == "nothing_to_undo"


def test_two_moves_are_undone_one_after_the_other(ground: Cast, least: AssigningProposal) -> None:
    first = moved(ground, least, "S1")
    after_first = first.now
    second = moved(ground, first, "S2")
    assert with_teacher(second, ground.mate) == set()
    assert (
        proposal_move_undo(actor=ground.coordinator, row=second).now["record"]["assignment"]
        == (after_first["record"]["assignment"])
    )


def test_what_breaks_a_rule_is_priced_and_said(ground: Cast) -> None:
    stays = ground.teacher.caseload.get(code="S1")
    row = first_of(proposed(ground, staying=[stays]))
    given = proposal_move(actor=ground.coordinator, row=row, units=[unit_of(row, "S1")], to=str(ground.mate.pk))
    view = proposal_view(ground.coordinator, given, DAY)
    assert view.figures.broken
    assert not view.may_take_over


def test_what_is_refused(ground: Cast, least: AssigningProposal) -> None:
    teacher, unit = str(ground.teacher.pk), unit_of(least, "S1")
    ask = {"actor": ground.coordinator, "row": least, "units": [unit], "to": teacher}
    for code, changed in (
        ("not_for_your_role", {"actor": ground.teacher}),
        ("as_today", {"row": least.run.proposals.get(position=0)}),
        ("changed_since", {"revision": 7}),
        ("nothing_chosen", {"units": []}),
        ("nothing_chosen", {"units": [unit, "none of these"]}),
        ("no_such_teacher", {"to": str(ground.coordinator.pk)}),
        ("same_teacher", {"to": str(ground.mate.pk)}),
    ):
        with pytest.raises(ApplicationError) as caught:
            proposal_move(**{**ask, **changed})  # type: ignore[arg-type]
        assert caught.value.code == code


def test_who_is_slower_is_told(ground: Cast, least: AssigningProposal) -> None:
    """Both looked at the same state; the second to press has to look again."""
    other = AssigningProposal.objects.select_related("run__district").get(pk=least.pk)
    moved(ground, least, "S1")
    with pytest.raises(ApplicationError) as caught:
        moved(ground, other, "S2")
    assert caught.value.code == "changed_since"
