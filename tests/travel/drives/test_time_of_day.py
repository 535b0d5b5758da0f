"""Which factor counts when."""

from hypothesis import given
from hypothesis import strategies as st

from travel.drives.time_of_day import DAY_MINUTES, RushWindow, factor_at, factor_within

PAIR = (1, 2)
BELL = RushWindow(450, 500, 1.5)
OWN = RushWindow(470, 480, 1.2, PAIR)

minutes = st.integers(0, DAY_MINUTES - 1)
windows = st.builds(
    lambda start, length, factor, pair: RushWindow(start, start + length, factor, pair),
    minutes,
    st.integers(1, 300),
    st.sampled_from([0.8, 1.1, 1.3, 2.0]),
    st.sampled_from([None, PAIR, (2, 1)]),
)


def test_a_window_holds_from_its_start_until_just_before_its_end() -> None:
    assert [factor_at([BELL], PAIR, minute) for minute in (449, 450, 499, 500)] == [1, 1.5, 1.5, 1]


def test_what_is_said_of_the_pair_replaces_what_is_said_of_all() -> None:
    assert factor_at([BELL, OWN], PAIR, 475) == 1.2
    assert factor_at([BELL, OWN], PAIR, 485) == 1.5
    assert factor_at([BELL, OWN], (2, 1), 475) == 1.5


def test_of_two_that_hold_the_larger_counts() -> None:
    assert factor_at([BELL, RushWindow(400, 600, 1.1)], PAIR, 460) == 1.5


def test_a_stretch_of_the_day_takes_its_worst_minute() -> None:
    assert factor_within([BELL], PAIR, 480, 900) == 1.5
    assert factor_within([BELL], PAIR, 500, 900) == 1
    assert factor_within([RushWindow(0, 1440, 0.9)], PAIR) == 0.9
    assert factor_within([RushWindow(450, 500, 0.9)], PAIR, 480, 900) == 1


@given(st.lists(windows, max_size=6), minutes, minutes)
def test_no_minute_of_a_stretch_is_worse_than_the_stretch(rows: list[RushWindow], one: int, other: int) -> None:
    """Against asking every minute."""
    first, last = min(one, other), max(one, other)
    assert factor_within(rows, PAIR, first, last) == max(
        factor_at(rows, PAIR, minute) for minute in range(first, last + 1)
    )
