"""Carrying a week's sessions over to another: by cycle day where there is one, else by weekday."""

import datetime as dt

from schedule.week_layout import DayFacts
from schedule.week_pattern import Held, carry_over, usual_times

MONDAY = dt.date(2026, 9, 14)
NEXT = MONDAY + dt.timedelta(days=7)


def week(
    monday: dt.date, labels: tuple[str, ...], closed: tuple[int, ...] = ()
) -> dict[tuple[int, dt.date], DayFacts]:
    """Building 1 over five days with these cycle days."""
    return {
        (1, monday + dt.timedelta(days=n)): DayFacts(
            monday + dt.timedelta(days=n), open=n not in closed, cycle_label=label
        )
        for n, label in enumerate(labels)
    }


def held(day: int, label: str = "", at: int = 600, unit: str = "a") -> Held:
    return Held(unit, MONDAY + dt.timedelta(days=day), at, 1, label)


PLAIN = ("",) * 5


def test_a_plain_week_follows_the_weekday() -> None:
    [one] = carry_over([held(2)], week(NEXT, PLAIN), {"a": 1})
    assert (one.date, one.at, one.pattern_key) == (NEXT + dt.timedelta(days=2), 600, "wednesday")


def test_a_cycle_day_is_followed_to_another_weekday() -> None:
    [one] = carry_over([held(0, "Day 1")], week(NEXT, ("Day 6", "Day 1", "Day 2", "Day 3", "Day 4")), {"a": 1})
    assert (one.date, one.pattern_key) == (NEXT + dt.timedelta(days=1), "Day 1")


def test_of_two_dates_of_one_label_the_same_weekday_goes_first() -> None:
    days = week(NEXT, ("A", "B", "A", "B", "A"))
    [one] = carry_over([held(2, "A")], days, {"a": 1})
    assert one.date == NEXT + dt.timedelta(days=2)
    both = carry_over([held(2, "A"), held(4, "A")], days, {"a": 2})
    assert {one.date for one in both} == {NEXT + dt.timedelta(days=2), NEXT + dt.timedelta(days=4)}


def test_a_closed_day_or_a_label_that_does_not_come_is_left_out() -> None:
    assert carry_over([held(2)], week(NEXT, PLAIN, closed=(2,)), {"a": 1}) == ()
    assert carry_over([held(4, "Day 5")], week(NEXT, ("Day 6", "Day 1", "Day 2", "Day 3", "Day 4")), {"a": 1}) == ()


def test_no_more_than_owed_is_carried() -> None:
    assert len(carry_over([held(0), held(2)], week(NEXT, PLAIN), {"a": 1})) == 1
    assert carry_over([held(0)], week(NEXT, PLAIN), {}) == ()


def test_usual_times_by_key() -> None:
    pairs = [(held(0), "monday"), (held(2, at=630), "wednesday"), (held(1, unit="b"), "Day 2")]
    assert usual_times(pairs) == {"a": (("monday", 600), ("wednesday", 630)), "b": (("Day 2", 600),)}
