"""What must be driven at least is never more than what the best assignment drives, and a proof is one."""

from dataclasses import replace

import pytest

from schedule.planner.assign.answer import Favoring, Proposal
from schedule.planner.assign.bound import least_driving
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.propose import propose
from schedule.planner.assign.question import Staffing
from schedule.planner.result import Ended
from tests.planner.assign.builders import district, owed, teacher
from tests.planner.assign.test_best import random_district, ranks

FAR = 10_000
"""Minutes that nobody drives."""


def the_proposal(question: Staffing) -> Proposal:
    """The one with least driving."""
    (found,) = propose(question, effort=1, favoring=(Favoring.DRIVING,))
    return found


@pytest.mark.long
@pytest.mark.parametrize("seed", range(8, 32))
def test_no_assignment_drives_less_than_the_bound(seed: int) -> None:
    """Every assignment of a tiny district, each week planned to proof; those that place all and miss nothing."""
    question = random_district(seed)
    driven = [
        cost for unplaced, missed, cost in ranks(question, Favoring.DRIVING).values() if not unplaced + missed
    ]
    assert least_driving(question, bundles(question), FAR) <= min(driven, default=FAR)


def five_at_school_a(bells: tuple[int, ...]) -> Staffing:
    """Five half hours five minutes from the one teacher's home, who has two mornings of four hours."""
    question = district(*(owed(f"s{n}", "a") for n in range(5)), teachers=(teacher("ames", "home a"),))
    return replace(question, sites=tuple(replace(one, bells=bells) for one in question.sites))


def test_a_proposal_that_drives_no_more_than_the_bound_is_proved() -> None:
    """All five fit into one morning: there and back once, and nobody can drive less than that."""
    found = the_proposal(five_at_school_a(()))
    assert (found.figures.driving, found.bound, found.ended) == (10, 10, Ended.PROOF)


def test_what_the_bound_leaves_out_is_not_called_proved() -> None:
    """Bells on the hour leave room for four sessions a morning: two ways there, though the minutes fit into one."""
    found = the_proposal(five_at_school_a((480, 540, 600, 660)))
    assert (found.figures.unplaced, found.figures.driving, found.bound) == (0, 20, 10)
    assert not found.proved


def test_nothing_is_bounded_where_somebody_has_no_room() -> None:
    """Twenty half hours in eight hours: what is left out may save a way, so no driving is the least."""
    found = the_proposal(district(*(owed(f"s{n}", "a") for n in range(20)), teachers=(teacher("ames", "home a"),)))
    assert found.figures.unplaced > 0
    assert (found.bound, found.proved) == (0, False)
