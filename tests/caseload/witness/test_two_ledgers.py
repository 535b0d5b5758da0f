"""The program's ledger and the second one say the same of thousands of lives.

Source of every rule: docs/minutes-ledger.md with what it names. The second ledger was written from it before its
author had read the program's, and where the two differed the document decided.
"""

import pytest

from tests.caseload.witness.chance import random_life
from tests.caseload.witness.core import core_ledger, said_by_core, said_by_witness
from tests.caseload.witness.life import Life
from tests.caseload.witness.second_ledger import second_ledger
from tests.caseload.witness.smaller import smallest, told

QUICK, LONG = 4_000, 10_000
BLOCK = 500


def both(life: Life) -> tuple[list[dict[str, object]], list[dict[str, object]]]:
    """What each ledger says of a life."""
    return said_by_core(core_ledger(life)), said_by_witness(second_ledger(life))


def differs(life: Life) -> bool:
    """Whether they say different things."""
    core, witness = both(life)
    return core != witness


def agree_on(seeds: range) -> None:
    """Fail with the least life on which the two differ, in words."""
    for seed in seeds:
        life = random_life(seed)
        if differs(life):
            least = smallest(life, differs)
            core, witness = both(least)
            apart = [(one, other) for one, other in zip(core, witness, strict=False) if one != other]
            pytest.fail(
                f"Life {seed}, cut down:\n{told(least)}\n" + "\n".join(f"{one}\n{other}" for one, other in apart)
            )


@pytest.mark.parametrize("first", range(0, QUICK, BLOCK))
def test_the_two_ledgers_agree(first: int) -> None:
    """Every figure of every period, of opening balances and of make-ups that nothing needed."""
    agree_on(range(first, first + BLOCK))


@pytest.mark.long
@pytest.mark.parametrize("first", range(QUICK, LONG, 2 * BLOCK))
def test_the_two_ledgers_agree_on_many_more(first: int) -> None:
    """The same of others, for whoever has a minute."""
    agree_on(range(first, first + 2 * BLOCK))
