"""The search in pieces: the order in which they are done makes no difference, and what comes out holds.

The rules are those of docs/assign.md; no outside source.
"""

from dataclasses import replace

import pytest

from benchmarks.assign_ground import DistrictShape, generate_district
from benchmarks.assign_pieces import proposals_by_pieces
from schedule.planner.assign.answer import Favoring, Proposal
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.figures import broken_rules
from schedule.planner.assign.propose import price
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.record import part_as_record, part_from_record
from schedule.planner.assign.spread import (
    LAST,
    PieceFound,
    WantedProposal,
    around,
    counted,
    counted_together,
    merged,
    pieces_counting,
    pieces_of,
    searched,
)

SHAPE = DistrictShape(teachers=5, sites=9, students=60, towns=4, keeps=2)
EFFORT = 0.6


@pytest.fixture(scope="module")
def question() -> Staffing:
    """Five teachers whose groups of four overlap."""
    return generate_district(SHAPE, 5)


def last_years(question: Staffing) -> dict[str, str]:
    return {one.id: one.last for one in question.services if one.last is not None}


def wanted_of(question: Staffing) -> list[WantedProposal]:
    kinds = (Favoring.DRIVING, Favoring.CHANGES)
    known = price(question, last_years(question))
    return [WantedProposal(one.value, question, one, EFFORT, beside=(known,)) for one in kinds]


def backwards(wanted: list[WantedProposal]) -> dict[str, Proposal]:
    """Each round's pieces from the last to the first, each found twice, and every result through its record."""
    by_key = {one.key: one for one in wanted}
    every: dict[str, list[PieceFound]] = {one.key: [] for one in wanted}
    now: dict[str, Proposal] = {}
    for number in range(1, LAST + 1):
        pieces, found = pieces_of(number, wanted), dict[str, PieceFound]()
        for piece in reversed((*pieces, *pieces[:1])):
            one = by_key[piece.wanted]
            told = searched(one, piece, now.get(one.key))
            loads = tuple(part_from_record(one.question, part_as_record(load)) for load in told.loads)
            found[piece.key] = replace(told, loads=loads)
        for piece in pieces:
            every[piece.wanted].append(found[piece.key])
        now = {one.key: merged(one, wanted, every, now, is_last=number == LAST) for one in wanted}
    return now


def test_pieces_done_backwards_come_to_the_same(question: Staffing) -> None:
    wanted = wanted_of(question)
    plain = proposals_by_pieces(wanted)
    assert plain == backwards(wanted)
    for one in wanted:
        known, found = one.beside[0], plain[one.key]
        assert found.figures.owed == known.figures.owed
        assert (found.figures.unplaced, found.figures.short) <= (known.figures.unplaced, known.figures.short)
        assert broken_rules(question, bundles(question), found.assignment) == []
        assert {one.id for one in question.services} == found.assignment.keys()
    assert plain["changes"].figures.kept >= plain["driving"].figures.kept
    assert plain["driving"].figures.driving <= plain["changes"].figures.driving


def test_weeks_counted_one_by_one_come_to_what_they_come_to_together(question: Staffing) -> None:
    given = last_years(question)
    found = [counted(question, given, piece.teacher) for piece in pieces_counting("today", question)]
    together, at_once = counted_together(question, given, found), price(question, given)
    assert replace(together, work=0.0) == replace(at_once, work=0.0)
    assert sum(one.work for one in found) == pytest.approx(at_once.work)


def test_around_a_teacher_lies_what_the_nearest_have(question: Staffing) -> None:
    """Of five teachers four are searched together: with all that they have, and nothing of the fifth's."""
    now = price(question, last_years(question))
    for teacher in question.teachers:
        part, begun = around(question, now, teacher.id)
        ids = [one.id for one in part.teachers]
        assert len(ids) == 4
        assert teacher.id in ids
        assert begun == {service: who for service, who in now.assignment.items() if who in ids}
        assert {one.id for one in part.services} == begun.keys()
