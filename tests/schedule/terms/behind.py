"""Simulated terms, to hold what is said of services that will be behind against what then happens."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from caseload.ledger.forecast import forecast
from caseload.ledger.outlook import RESERVED_FOR
from caseload.ledger.rates import LearnedRates, RateBelief, SessionHistory
from schedule.terms.allotment.words import behind_words
from tests.caseload.forecast_districts import KINDS, MINUTES, Life, lives_of

WEEKS = 18
ROOM = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Of the room that a service's reserve wants, what its term has: full weeks have none."""


@dataclass(frozen=True, slots=True)
class ToldBehind:
    """One service over one term: its chance to end short as it was worked out, whether that was said, what came.

    ``room``: the share of the reserve wanted that the weeks have.
    """

    room: float
    chance: float
    said: bool
    behind: bool


def terms_of(kind: str, *, districts: int, seed: int) -> Iterator[ToldBehind]:
    """Each student of so many districts, with a service of one to three sessions a week."""
    chance = np.random.default_rng(seed)
    for _ in range(districts):
        lives = list(lives_of(KINDS[kind], chance))
        learned = LearnedRates(SessionHistory(life.past) for life in lives)
        for life in lives:
            owed, room = WEEKS * int(chance.integers(1, 4)), float(chance.choice(ROOM))
            yield _told(life, learned.belief(SessionHistory(life.past)), owed, room)


def _told(life: Life, belief: RateBelief, owed: int, room: float) -> ToldBehind:
    """As a term does it: what is to be expected missed is wanted in reserve, and the weeks have room for some."""
    held = owed + int(room * round(belief.mean * owed))
    seen = forecast(
        needed=owed * MINUTES,
        sessions=(MINUTES,) * held,
        belief=belief,
        make_up_minutes=MINUTES,
        tolerated=RESERVED_FOR,
    ).ends_short
    given = held - sum(life.future[:held])
    return ToldBehind(room, seen, bool(behind_words(0, seen)), given < owed)
