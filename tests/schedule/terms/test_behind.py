"""“Likely behind” is rare and true: held against simulated terms of both kinds of district.

Chances are proportions: with so many cases a standard error is 2 to 4 points, and 10 are allowed.
"""

import numpy as np
import pytest

from tests.caseload.forecast_districts import KINDS
from tests.schedule.terms.behind import terms_of


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_what_is_said_to_be_behind_is_so_as_often_as_said(kind: str) -> None:
    found = list(terms_of(kind, districts=15, seed=5))
    said = [one for one in found if one.said]
    assert len(said) > 100
    happened = np.mean([one.behind for one in said])
    assert abs(happened - np.mean([one.chance for one in said])) < 0.1
    assert happened > 2 / 3


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_where_the_weeks_have_the_room_it_is_said_rarely(kind: str) -> None:
    whole = [one for one in terms_of(kind, districts=15, seed=5) if one.room == 1]
    assert len(whole) > 50
    assert np.mean([one.said for one in whole]) < 0.1
