"""Changing a proposal by hand: students go to another teacher in it, priced at once; each change can be undone."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write, coordinator_require
from schedule.assigning.bundled import students_changing
from schedule.assigning.models import AssigningProposal
from schedule.assigning.selectors.standing import ProposalStanding
from schedule.planner.assign.propose import price
from schedule.planner.assign.record import as_record

SEEN_OTHERWISE = "Somebody changed this proposal since you opened it. Look at it again."


def proposal_move(
    *, actor: Person, row: AssigningProposal, units: Collection[str], to: str, revision: int | None = None
) -> AssigningProposal:
    """Give students to another teacher in a proposal and price it anew. ``units``: keys of what goes together.

    Nothing else changes. Raises ``ApplicationError``: 403, ``as_today``, ``taken_over``, ``changed_since``,
    ``nothing_chosen``, ``no_such_teacher``, ``same_teacher``.
    """
    coordinator_require(actor)
    _check_open(row, revision)
    standing = ProposalStanding(row)
    services, riders = _given(standing, units, to)
    assignment, with_riders = dict(standing.now.assignment), dict(standing.riders_now)
    after = assignment | services, with_riders | riders
    if after == (assignment, with_riders):
        raise ApplicationError("They are with this teacher already.", code="same_teacher")
    move = {
        "services": {one: assignment.get(one, "") for one in services},
        "riders": {one: with_riders.get(one, "") for one in riders},
        "to": to,
    }
    return _save(actor, standing, after, [*row.moves, move], "proposal_move")


def _given(standing: ProposalStanding, units: Collection[str], to: str) -> tuple[dict[str, str], dict[str, str]]:
    """Services and riders of these units, each with the teacher whom they go to."""
    if not standing.question.has_teacher(to):
        raise ApplicationError("Choose one of the teachers of this proposal.", code="no_such_teacher")
    chosen = [standing.movables[key] for key in units if key in standing.movables]
    if not chosen or len(chosen) < len(set(units)):
        raise ApplicationError("Check the students who are to move.", code="nothing_chosen")
    services = dict.fromkeys((one for unit in chosen for one in unit.services), to)
    return services, dict.fromkeys((unit.rider for unit in chosen if unit.rider), to)


def proposal_move_undo(*, actor: Person, row: AssigningProposal, revision: int | None = None) -> AssigningProposal:
    """Take the last change by hand back. Raises ``ApplicationError`` as a move does, and ``nothing_to_undo``."""
    coordinator_require(actor)
    _check_open(row, revision)
    if not row.moves:
        raise ApplicationError("There is no change by hand to take back.", code="nothing_to_undo")
    standing, last = ProposalStanding(row), row.moves[-1]
    after = (
        _put_back(standing.now.assignment, last["services"]),
        _put_back(standing.riders_now, last["riders"]),
    )
    return _save(actor, standing, after, row.moves[:-1], "proposal_move_undo")


def _put_back(now: Mapping[str, str], before: Mapping[str, str]) -> dict[str, str]:
    """Each as it was; empty stands for nobody."""
    return {one: who for one, who in {**now, **before}.items() if who}


def _check_open(row: AssigningProposal, revision: int | None) -> None:
    if row.is_today:
        raise ApplicationError("This is who serves whom today. Change one of the proposals.", code="as_today")
    if row.is_taken:
        raise ApplicationError("This proposal is taken over. Take it back first.", code="taken_over")
    if revision is not None and revision != row.revision:
        raise ApplicationError(SEEN_OTHERWISE, code="changed_since")


def _save(
    actor: Person,
    standing: ProposalStanding,
    after: tuple[dict[str, str], dict[str, str]],
    moves: list[Any],
    action: str,
) -> AssigningProposal:
    """Price it, and keep it unless somebody was faster."""
    row, (assignment, riders) = standing.row, after
    known = replace(standing.now, loads=(*standing.found.loads, *standing.now.loads))
    record = as_record(price(standing.question, assignment, beside=known)) if moves else row.found["record"]
    changing = students_changing(standing.question, standing.riders, assignment, riders)
    with transaction.atomic():
        held = AssigningProposal.objects.select_for_update().get(pk=row.pk)
        if held.revision != row.revision or held.is_taken:
            raise ApplicationError(SEEN_OTHERWISE, code="changed_since")
        row.now = {"record": record, "riders": riders, "changes": changing}
        row.moves = moves
        row.revision += 1
        row.save(update_fields=["now", "moves", "revision"])
        changes = {"moves": [len(held.moves), len(moves)]}
        audit_write(actor=actor, district=row.district, action=action, row=row, changes=changes)
    return row
