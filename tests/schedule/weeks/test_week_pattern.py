"""Carrying a week's sessions over to another: by cycle day where there is one, else by weekday."""

import datetime as dt
from dataclasses import replace

from schedule.calendar.calendars import CycleDay
from schedule.calendar.laid_out import DayFacts
from schedule.weeks.pattern import EarlierWeek, Held, carry_over, latest_of_kind, usual_times

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


# ---- which earlier week each session is compared with ----------------------------------------------------

type Labels = dict[int, tuple[str, ...]]


class Weeks:
    """Weeks of building 1 from MONDAY on, by number; the one after the last is the week at hand."""

    def __init__(
        self, labels: Labels, *, by_week: bool = False, closed: dict[int, tuple[int, ...]] | None = None
    ) -> None:
        self.labels, self.by_week, self.closed = labels, by_week, closed or {}

    def facts(self, building: int, date: dt.date) -> DayFacts:
        number, day = divmod((date - MONDAY).days, 7)
        is_open = day < 5 and day not in self.closed.get(number, ())
        label = self.labels.get(number, PLAIN)[day] if is_open else ""
        return DayFacts(date, open=is_open, cycle_label=label, by_week=self.by_week)

    def dates(self, number: int) -> list[dt.date]:
        return [MONDAY + dt.timedelta(weeks=number, days=day) for day in range(7)]

    def held(self, number: int, day: int, at: int = 600, unit: str = "a") -> Held:
        date = self.dates(number)[day]
        return Held(unit, date, at, 1, self.facts(1, date).cycle_label)

    def compared(self, *held: Held, now: int, owed: int = 1) -> list[tuple[int, int]]:
        """(weekday, minute) of unit a's sessions that the week now is compared with."""
        weeks = []
        for number in reversed(range(now)):
            planned = frozenset(date for date in self.dates(number) if self.facts(1, date).open)
            weeks.append(EarlierWeek(planned, tuple(one for one in held if one.date in self.dates(number))))
        days = {(1, date): self.facts(1, date) for date in self.dates(now)}
        found = carry_over(latest_of_kind(weeks, self.facts, self.dates(now)), days, {"a": owed})
        return [(one.date.weekday(), one.at) for one in found]


def test_the_latest_week_counts_where_all_weeks_are_alike() -> None:
    weeks = Weeks({})
    assert weeks.compared(weeks.held(0, 1), weeks.held(1, 3, at=700), now=2) == [(3, 700)]


def test_a_week_cut_short_is_passed_over_for_the_days_that_it_lacked() -> None:
    """Thanksgiving: Thursday's session is compared with the week before it."""
    weeks = Weeks({}, closed={1: (2, 3, 4)})
    held = weeks.held(0, 0), weeks.held(0, 3, at=700), weeks.held(1, 0, at=615)
    assert weeks.compared(*held, now=2, owed=2) == [(3, 700), (0, 615)]


def test_a_day_that_stood_in_for_a_closed_one_is_no_habit() -> None:
    weeks = Weeks({}, closed={1: (0,)})
    assert weeks.compared(weeks.held(0, 0), weeks.held(1, 1, at=700), now=2) == [(0, 600)]


def test_an_a_week_is_compared_with_the_last_a_week() -> None:
    weeks = Weeks({0: ("A",) * 5, 1: ("B",) * 5, 2: ("A",) * 5, 3: ("B",) * 5}, by_week=True)
    held = weeks.held(0, 0), weeks.held(1, 2, at=700), weeks.held(2, 1, at=615)
    assert weeks.compared(*held[:2], now=2) == [(0, 600)]
    assert weeks.compared(*held, now=3) == [(2, 700)]


def test_a_first_b_week_is_compared_with_the_a_week_before_it() -> None:
    weeks = Weeks({0: ("A",) * 5, 1: ("B",) * 5}, by_week=True)
    assert weeks.compared(weeks.held(0, 3), now=1) == [(3, 600)]


def test_in_an_a_week_the_weekday_is_kept_too() -> None:
    weeks = Weeks({0: ("A",) * 5, 1: ("B",) * 5, 2: ("A",) * 5}, by_week=True, closed={2: (0,)})
    assert weeks.compared(weeks.held(0, 0), weeks.held(1, 2), now=2) == []


def test_a_cycle_day_is_compared_with_the_week_in_which_it_last_came() -> None:
    """Six days in turn: Day 6 came two weeks ago, Day 1 last week at another time."""
    turn = tuple(f"Day {n}" for n in range(1, 7))
    rows = [(5 * week + day) % 6 for week in range(4) for day in range(5)]
    weeks = Weeks({week: tuple(turn[n] for n in rows[5 * week : 5 * week + 5]) for week in range(4)})
    # Week 1 begins with Day 6, week 2 with Day 5, week 3 with Day 4: Day 6 is its Wednesday.
    held = weeks.held(1, 0), weeks.held(1, 1), weeks.held(2, 2, at=700)
    assert [one.cycle_day for one in held] == ["Day 6", "Day 1", "Day 1"]
    assert weeks.compared(*held[:2], now=2, owed=2) == [(1, 600), (2, 600)]
    # Week 2 had a Day 6 without the session, and Day 1 at 700.
    assert weeks.compared(*held, now=3, owed=2) == [(3, 700)]


def test_a_service_of_every_other_week_is_compared_with_the_week_that_held_it() -> None:
    weeks = Weeks({})
    assert weeks.compared(weeks.held(0, 2), weeks.held(1, 0, unit="b"), now=2) == [(2, 600)]


# ---- two rotations in one building -----------------------------------------------------------------------


class TwoRotations(Weeks):
    """The same building for grades that count A and B weeks, beside its own six days."""

    def facts(self, building: int, date: dt.date) -> DayFacts:
        own = super().facts(building, date)
        letter = "AB"[(date - MONDAY).days // 7 % 2] if own.open else ""
        turn = tuple(f"Day {n}" for n in range(1, 7))
        both = (CycleDay(own.cycle_label, turn), CycleDay(letter, ("A", "B"), by_week=True, grades=frozenset("7")))
        return replace(own, turning=both)


def test_a_class_of_a_grade_with_letters_is_compared_by_its_letter() -> None:
    """Week 2 is an A week: the Wednesday of week 0, not the Monday of week 1, whatever the six days are then."""
    days = tuple(f"Day {n % 6 + 1}" for n in range(15))
    weeks = TwoRotations({week: days[5 * week : 5 * week + 5] for week in range(3)})
    by_letter = replace(weeks.held(0, 2), cycle_day="A"), replace(weeks.held(1, 0, at=700), cycle_day="B")
    assert weeks.compared(*by_letter, now=2) == [(2, 600)]
    # By the building's own days week 1 is Day 6, 1, 2, 3, 4 and week 2 Day 5, 6, 1, 2, 3: Day 6 comes on Tuesday.
    assert weeks.compared(weeks.held(1, 0, at=700), now=2) == [(1, 700)]
