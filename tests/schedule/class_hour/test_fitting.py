"""How a routine fits into a class's minutes: the rules as their page says them, no outside source."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.class_hour.fitting import Fit, TimedPart, WhenShort, fit_parts

MAY, SHRINKS, NEVER = WhenShort.MAY_FALL_OUT, WhenShort.SHRINKS, WhenShort.NEVER_FALLS_OUT
# A warm-up of 5 (at least 3), a game of 10 (at least 6) that may fall out, stations of 12 (at least 8), and a
# cool-down of 3 that always has its 3 minutes and never falls out: 30 on a usual day, 20 at the least.
LESSON = (TimedPart(1, 5, 3), TimedPart(2, 10, 6, MAY), TimedPart(3, 12, 8), TimedPart(4, 3, 3, NEVER))


def lengths(fit: Fit) -> dict[int, int]:
    """Minutes by key."""
    return {time.key: time.minutes for time in fit.times}


@pytest.mark.parametrize(
    ("minutes", "wanted", "out"),
    [
        (30, {1: 5, 2: 10, 3: 12, 4: 3}, ()),
        # 5 are missing of 2 + 4 + 4 that can be given up: shares 1, 2, 2.
        (25, {1: 4, 2: 8, 3: 10, 4: 3}, ()),
        (20, {1: 3, 2: 6, 3: 8, 4: 3}, ()),
        # The game goes: 20 are what the others have on a usual day, 19 takes one off the longer slack.
        (19, {1: 5, 3: 11, 4: 3}, (2,)),
        (14, {1: 3, 3: 8, 4: 3}, (2,)),
        # Then of the others the one whose going is enough; the warm-up takes what is left over.
        (10, {1: 7, 4: 3}, (2, 3)),
        (6, {1: 3, 4: 3}, (2, 3)),
        (3, {4: 3}, (1, 2, 3)),
        # More than usual goes to those that can be longer or shorter, by their lengths: 9 as 5 : 10 : 12.
        (39, {1: 7, 2: 13, 3: 16, 4: 3}, ()),
    ],
)
def test_by_the_rules(minutes: int, wanted: dict[int, int], out: tuple[int, ...]) -> None:
    """Shrink, then fall out, then come back; the ending keeps its minutes."""
    fit = fit_parts(LESSON, 600, 600 + minutes)
    assert (lengths(fit), fit.out) == (wanted, out)
    assert fit.left_over == fit.over == 0


def test_the_shortest_goes_whose_going_is_enough() -> None:
    """Two minutes too long: the instruction of 2 goes and the stations of 7 stay; of two alike the later goes."""
    parts = [TimedPart(1, 4, 3), TimedPart(2, 3, 2), TimedPart(3, 10, 7), TimedPart(4, 4, 3)]
    assert fit_parts(parts, 0, 13).out == (2,)
    assert fit_parts(parts, 0, 12).out == (4,)


def test_too_long_runs_over_and_says_by_how_much() -> None:
    """What never falls out isn't cut below its least."""
    fit = fit_parts(LESSON, 0, 2)
    assert (lengths(fit), fit.over, fit.left_over) == ({4: 3}, 1, 0)


def test_minutes_that_no_part_can_take_are_left_over() -> None:
    """Nothing is stretched that has one length only."""
    fit = fit_parts([TimedPart(1, 5, 5), TimedPart(2, 3, 3)], 0, 12)
    assert (lengths(fit), fit.left_over) == ({1: 5, 2: 3}, 4)


def test_no_parts_and_no_minutes() -> None:
    """Nothing to place is no problem; a class that isn't there has no minutes."""
    assert fit_parts([], 0, 30) == Fit((), (), left_over=30)
    assert fit_parts(LESSON, 30, 10).times[0].start == 30


PARTS = st.lists(
    st.tuples(st.integers(1, 30), st.integers(1, 30), st.sampled_from(list(WhenShort))), min_size=1, max_size=15
).map(
    lambda rows: [TimedPart(at, max(one, two), min(one, two), short) for at, (one, two, short) in enumerate(rows)]
)


@given(PARTS, st.integers(0, 200))
def test_whatever_the_routine(parts: Sequence[TimedPart], minutes: int) -> None:
    """Parts follow each other in their order, none under its least, and together they are the class's minutes."""
    fit = fit_parts(parts, 60, 60 + minutes)
    by_key = {part.key: part for part in parts}
    assert [time.key for time in fit.times] == sorted(time.key for time in fit.times)
    assert all(one.end == after.start for one, after in pairwise(fit.times))
    assert all(time.minutes >= by_key[time.key].least for time in fit.times)
    assert {time.key for time in fit.times} | set(fit.out) == set(by_key)
    assert sum(time.minutes for time in fit.times) + fit.left_over - fit.over == minutes
    assert not (fit.left_over and fit.over)
    assert not any(by_key[key].when_short == NEVER for key in fit.out)
    if fit.over:
        assert all(by_key[time.key].when_short == NEVER for time in fit.times)


@given(PARTS, st.integers(0, 200))
def test_nothing_falls_out_that_would_fit(parts: Sequence[TimedPart], minutes: int) -> None:
    """Each part that is out would be too long beside those that stay; nothing goes where shrinking does."""
    fit = fit_parts(parts, 0, minutes)
    by_key = {part.key: part for part in parts}
    least = sum(by_key[time.key].least for time in fit.times)
    assert all(least + by_key[key].least > minutes for key in fit.out)
    if sum(part.least for part in parts) <= minutes:
        assert fit.out == ()


@given(PARTS, st.integers(0, 200))
def test_what_may_fall_out_goes_before_the_others(parts: Sequence[TimedPart], minutes: int) -> None:
    """If a plain part is out, then so are all that may fall out and are no shorter at the least."""
    fit = fit_parts(parts, 0, minutes)
    by_key = {part.key: part for part in parts}
    plain_out = [by_key[key].least for key in fit.out if by_key[key].when_short == SHRINKS]
    stays = [by_key[time.key].least for time in fit.times if by_key[time.key].when_short == MAY]
    assert not plain_out or all(one < min(plain_out) for one in stays)
