"""The smallest clash of rules, against every subset of few rules; rules that clash are made up at random."""

import random
from itertools import combinations

import pytest

from schedule.planner.asking.smallest import Rules, hitting_set, smallest_clash

COUNT = 8


def subsets(count: int) -> list[Rules]:
    """Every set of numbers below ``count``, the smallest first."""
    return [frozenset(one) for size in range(count + 1) for one in combinations(range(count), size)]


def made_up(seed: int) -> list[Rules]:
    """Some clashes: a set of rules clashes if it holds one of them."""
    rng = random.Random(seed)  # noqa: S311 -- test data, no secret
    return [frozenset(rng.sample(range(COUNT), rng.randint(1, 5))) for _ in range(rng.randint(1, 5))]


@pytest.mark.parametrize("seed", range(200))
def test_no_smaller_set_clashes(seed: int) -> None:
    """The first of all subsets by size that clashes is as large as the one found."""
    clashes = made_up(seed)

    def oracle(rules: Rules) -> bool:
        return any(one <= rules for one in clashes)

    found, proved = smallest_clash(COUNT, oracle, max(clashes, key=len))
    assert proved
    assert oracle(found)
    assert len(found) == len(next(one for one in subsets(COUNT) if oracle(one)))


@pytest.mark.parametrize("seed", range(60))
def test_what_is_not_known_is_not_claimed(seed: int) -> None:
    """An oracle that gives up after some questions: what is said to be smallest still is."""
    clashes = made_up(seed)
    least = min(len(one) for one in clashes)
    proofs = 0
    for patience in range(12):
        left = [patience]

        def oracle(rules: Rules, left: list[int] = left) -> bool | None:
            left[0] -= 1
            return any(one <= rules for one in clashes) if left[0] >= 0 else None

        known = max(clashes, key=len)
        found, proved = smallest_clash(COUNT, oracle, known)
        assert len(found) == least if proved else found == known
        proofs += proved
    assert proofs < 12 or least == len(max(clashes, key=len))


@pytest.mark.parametrize("seed", range(60))
def test_hitting_sets_are_the_smallest(seed: int) -> None:
    sets = made_up(seed)
    found = hitting_set(sets)
    assert all(found & one for one in sets)
    assert len(found) == len(next(one for one in subsets(COUNT) if all(one & other for other in sets)))


def test_nothing_to_hit_needs_nothing() -> None:
    assert hitting_set([]) == frozenset()
