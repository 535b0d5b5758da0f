"""Choosing make-ups against every choice there is, and the chain that taking one after the other gets wrong."""

import datetime as dt
from collections.abc import Mapping, Sequence
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.make_ups.choosing import Choice, MakeUpOption, choose

MONDAY = dt.date(2026, 9, 21)
MOVES = {("N", "S"): 15, ("S", "N"): 15}


def judge(options: Sequence[MakeUpOption]) -> int | None:
    """A week that holds four at most, each of its days judged by itself."""
    days = [[one for one in options if one.day == day] for day in {one.day for one in options}]
    drives = [judge_day(held) for held in days]
    if len(options) > 4 or None in drives:
        return None
    return sum(drive or 0 for drive in drives)


def judge_day(held: Sequence[MakeUpOption]) -> int | None:
    """One after the other with time to move, three at most; ten minutes for each move, from N and back to N."""
    order = sorted(held, key=lambda one: one.start)
    gaps = [(after.start - before.end, (before.place, after.place)) for before, after in pairwise(order)]
    if len(order) > 3 or any(gap < MOVES.get(move, 0) for gap, move in gaps):
        return None
    return 10 * sum(one != other for one, other in pairwise(["N", *(one.place for one in order), "N"]))


def best_of_all(options: Sequence[MakeUpOption], wanted: Mapping[int, int]) -> tuple[int, int, int]:
    """Most minutes (negative), fewest late, least driving, over every set of options."""
    found = [(0, 0, 0)]
    for count in range(1, len(options) + 1):
        for chosen in combinations(options, count):
            drive = judge(chosen)
            given_ = {piece: sum(m for one in chosen for at, m in one.gives if at == piece) for piece in wanted}
            if drive is not None and all(given_[piece] <= most for piece, most in wanted.items()):
                late = sum(one.late for one in chosen)
                found.append((-sum(one.minutes for one in chosen), late, drive))
    return min(found)


def option(day: int, slot: int, length: int, place: str, pieces: Sequence[int], late: int = 0) -> MakeUpOption:
    """An option that begins so many times ten minutes after 8:00, with what it adds alone."""
    start = 480 + 10 * slot
    gives = tuple((piece, length) for piece in sorted(set(pieces)))
    return MakeUpOption(
        MONDAY + dt.timedelta(days=day), start, start + length, place, gives, 20 * (place == "S"), late * length
    )


OPTIONS = st.builds(
    option,
    st.integers(0, 1),
    st.integers(0, 8),
    st.sampled_from([15, 30]),
    st.sampled_from("NS"),
    st.lists(st.integers(0, 4), min_size=1, max_size=2),
    st.integers(0, 1),
)


@pytest.mark.long
@settings(max_examples=150, deadline=None)
@given(
    st.lists(OPTIONS, min_size=1, max_size=9, unique=True),
    st.lists(st.sampled_from([15, 30, 60]), min_size=5, max_size=5),
)
def test_no_choice_is_better(options: list[MakeUpOption], minutes: list[int]) -> None:
    """Against every set of options there is; and what was found says that it is proved."""
    wanted = dict(enumerate(minutes))
    found = choose(options, wanted, judge, MOVES)
    assert (-found.minutes, found.late, found.drive) == best_of_all(options, wanted)
    assert found.is_proved


def test_four_of_four_in_a_chain() -> None:
    """A fits first or second, B second or third, C third or fourth, D only first: all four, each one along."""
    fits = {0: (0, 4), 1: (4, 8), 2: (8, 12), 3: (0,)}
    options = [option(0, slot, 30, "N", [piece]) for piece, slots in fits.items() for slot in slots]
    found = choose(options, dict.fromkeys(fits, 30), lambda held: 0, {})
    assert (found.minutes, len(found.options), found.most_is_proved) == (120, 4, True)


def test_a_group_is_worth_the_minutes_of_all_in_it() -> None:
    """One moment for three together or for one alone: 90 minutes and not 30."""
    together, alone = option(0, 0, 30, "N", [0, 1, 2]), option(0, 0, 30, "N", [3])
    assert choose([alone, together], dict.fromkeys(range(4), 30), lambda held: 0, {}).options == (together,)


def test_lines_that_keep_apart_meet_once_a_day() -> None:
    """Two make-ups of one line: the second goes to another day."""
    same, other = option(0, 8, 30, "N", [1]), option(1, 0, 30, "N", [1])
    options = [
        MakeUpOption(one.day, one.start, one.end, one.place, one.gives, apart=(7,))
        for one in (option(0, 0, 30, "N", [0]), same, other)
    ]
    found = choose(options, {0: 30, 1: 30}, lambda held: 0, {})
    assert [one.day for one in found.options] == [MONDAY, MONDAY + dt.timedelta(days=1)]


def test_once_it_is_enough_the_bounds_say_what_is_not_ruled_out() -> None:
    """Stopped at once: nothing chosen, and no more than everything could be had."""
    found = choose([option(0, 0, 30, "N", [0])], {0: 30}, lambda held: 0, {}, enough=lambda: True)
    assert found == Choice((), 0, 30, 0)
    assert not found.most_is_proved


def test_without_options_nothing_is_chosen_and_that_is_proved() -> None:
    """Nothing to choose from."""
    found = choose([], {0: 30}, lambda held: 0, {})
    assert (found.options, found.is_proved) == ((), True)
