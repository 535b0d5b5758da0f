"""Compiled with what follows: a district and an assignment in the making as arrays, and which column is what.

Files that are compiled take numbers from compiled files only (`schedule.planner.proving.labels.sources_key`): one
read from elsewhere would stay as it was when it was compiled.
"""

from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schedule.planner.proving.labels import compiled_in

HERE = Path(__file__).resolve().parent
packed = compiled_in(HERE, "packed")

type Ints = NDArray[np.int64]
type Floats = NDArray[np.float64]

MOST_STOPS = 10
"""Buildings in one day; a day with more isn't looked for."""

START, END, FROM, TO, LUNCH, EARLIEST, LATEST, OFF = range(8)
"""A day's columns: contract day, places of its ends (-1: open), lunch and its window, minutes for blocks,
preparation and slack. A day that a teacher doesn't have ends before it starts."""

PLACE, LOAD, MINUTES, SESSIONS, APART = range(5)
"""A service's columns. ``LOAD``: minutes of a session up to the next bell."""

UNPLACED = 1e5
"""What a minute that isn't placed counts: more than all the rest together."""

FORBIDDEN = 1e18


class Terrain(NamedTuple):
    """What doesn't change: by teacher (t), day (d), place (p), service (s) and bundle (b)."""

    drive: Ints
    """[p, p] minutes at the wheel."""
    leg: Ints
    """[p, p] the same with packing up, parking and signing in."""
    opens: Ints
    closes: Ints
    days: Ints
    """[t, d, column]."""
    services: Ints
    """[s, column], those of one bundle beside one another."""
    may: Ints
    """[s, t, d] 1 where a session may be held."""
    first: Ints
    """[b + 1] number of a bundle's first service."""
    extra: Floats
    """[b, t] what changing teachers counts, ``FORBIDDEN`` where a teacher may not."""
    most: Ints
    """[t] session minutes a week at most."""
    contract: Floats
    """[t] share of all contract minutes."""
    near: Ints
    """[b, b] all bundles by how near they are to one."""
    worth: Floats
    """A minute of driving, of unevenness, a meeting."""


class Rough(NamedTuple):
    """An assignment in the making."""

    stops: Ints
    """[t, d, place in turn] buildings of a day in order."""
    turns: Ints
    """[t, d] how many."""
    load: Ints
    """[t, d, p] minutes there."""
    held: Ints
    """[t, d, p] sessions there."""
    driven: Ints
    """[t, d]."""
    at: Ints
    """[s, session] the day it is held, -1: unplaced."""
    owner: Ints
    """[b] the teacher, -1: nobody."""
    given: Ints
    """[t] session minutes given, placed or not."""
    placed: Ints
    """[t] session minutes placed."""


def empty_part(ground: Terrain) -> Rough:
    """Nobody has anything."""
    teachers, days, _ = ground.days.shape
    places = len(ground.opens)
    most = int(ground.services[:, SESSIONS].max(initial=1))
    return Rough(
        stops=np.zeros((teachers, days, MOST_STOPS), np.int64),
        turns=np.zeros((teachers, days), np.int64),
        load=np.zeros((teachers, days, places), np.int64),
        held=np.zeros((teachers, days, places), np.int64),
        driven=np.zeros((teachers, days), np.int64),
        at=np.full((len(ground.services), most), -1, np.int64),
        owner=np.full(len(ground.first) - 1, -1, np.int64),
        given=np.zeros(teachers, np.int64),
        placed=np.zeros(teachers, np.int64),
    )


@packed
def drawn(state: Floats, below: int) -> int:
    """A number from 0 to one less than ``below``: the generator of Park and Miller (1988), kept in an array."""
    state[0] = (state[0] * 16807.0) % 2147483647.0
    return min(below - 1, int(state[0] / 2147483647.0 * below))
