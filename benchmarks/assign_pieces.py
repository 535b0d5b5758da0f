"""The pieces of a search for who serves whom in one process, beside which the workers' answers are held."""

from collections.abc import Sequence

from schedule.planner.assign.answer import Proposal
from schedule.planner.assign.spread import (
    LAST,
    PieceFound,
    WantedProposal,
    merged,
    pieces_of,
    searched,
)


def proposals_by_pieces(wanted: Sequence[WantedProposal]) -> dict[str, Proposal]:
    """Every piece in this process, one after the other: the same answer as with many workers."""
    every: dict[str, list[PieceFound]] = {one.key: [] for one in wanted}
    now: dict[str, Proposal] = {}
    by_key = {one.key: one for one in wanted}
    for number in range(1, LAST + 1):
        for piece in pieces_of(number, wanted):
            every[piece.wanted].append(searched(by_key[piece.wanted], piece, now.get(piece.wanted)))
        now = {one.key: merged(one, wanted, every, now, is_last=number == LAST) for one in wanted}
    return now
