"""“Likely behind” is rare and true: held against simulated terms of both kinds of district.

Chances are proportions: of some hundred cases a standard error is 2 to 4 points, more where students of a district
miss together. 10 points are allowed for each share of room, 5 over all.
"""

from functools import cache

import numpy as np
import pytest

from tests.caseload.forecast_districts import KINDS
from tests.schedule.terms.behind import ROOM, ToldBehind, terms_of

DISTRICTS = 60


@cache
def told(kind: str) -> tuple[ToldBehind, ...]:
    return tuple(terms_of(kind, districts=DISTRICTS, seed=5))


def off(said: list[ToldBehind]) -> float:
    """By how much more was said than happened."""
    return float(np.mean([one.chance for one in said]) - np.mean([one.behind for one in said]))


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_what_is_said_to_be_behind_is_so_as_often_as_said(kind: str) -> None:
    said = [one for one in told(kind) if one.said]
    assert len(said) > 400
    assert abs(off(said)) < 0.05
    assert np.mean([one.behind for one in said]) > 2 / 3


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_it_holds_whatever_room_the_weeks_have(kind: str) -> None:
    by_room = {room: [one for one in told(kind) if one.said and one.room == room] for room in ROOM}
    many = {room: said for room, said in by_room.items() if len(said) > 100}
    assert len(many) >= 3
    assert {room: abs(off(said)) < 0.1 for room, said in many.items()} == dict.fromkeys(many, True)


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_where_the_weeks_have_the_room_it_is_said_rarely(kind: str) -> None:
    whole = [one for one in told(kind) if one.room == 1]
    assert len(whole) > 50
    assert np.mean([one.said for one in whole]) < 0.1
