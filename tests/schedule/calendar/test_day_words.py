"""Days in words, held against RFC 5545's BYDAY as python-dateutil works it out."""

import calendar
import datetime as dt

import pytest
from dateutil import rrule

from schedule.calendar.calendars import BellDefaults
from schedule.calendar.day_words import NamedDays, days_name, may_fall_together, read_part
from schedule.calendar.laid_out import lay_out_days
from schedule.calendar.rotations import Rotation, RotationKind

pytestmark = pytest.mark.core
FIRST, LAST = dt.date(2026, 8, 1), dt.date(2028, 7, 31)
"""Two school years, one with a leap day."""
AB = ("A", "B")
CYCLE = tuple(f"Day {number}" for number in range(1, 7))
PLACES = {"first": 1, "2nd": 2, "third": 3, "4th": 4, "fifth": 5, "last": -1}


@pytest.mark.parametrize("word", PLACES)
@pytest.mark.parametrize("weekday", range(7))
def test_a_weekday_by_its_place_in_the_month_is_what_rfc_5545_counts(word: str, weekday: int) -> None:
    """RFC 5545, 3.3.10: within a monthly rule BYDAY=1WE is the month's first Wednesday, -1FR its last Friday."""
    name = calendar.day_name[weekday]
    midnights = [dt.datetime.combine(day, dt.time(), dt.UTC) for day in (FIRST, LAST)]
    by = rrule.weekday(weekday)(PLACES[word])
    rule = rrule.rrule(rrule.MONTHLY, dtstart=midnights[0], until=midnights[1], byweekday=by)
    days = [FIRST + dt.timedelta(days=one) for one in range((LAST - FIRST).days + 1)]
    assert [day for day in days if days_name(f"{word} {name}", day, "")] == [one.date() for one in rule]


@pytest.mark.parametrize(
    ("part", "labels", "found"),
    [
        ("A Mon", AB, NamedDays("A", frozenset({0}))),
        ("b tue-thu", AB, NamedDays("B", frozenset({1, 2, 3}))),
        ("3 Fri", CYCLE, NamedDays("Day 3", frozenset({4}))),
        ("Day 3  Friday", CYCLE, NamedDays("Day 3", frozenset({4}))),
        ("day 6", CYCLE, NamedDays("Day 6")),
        ("First Wed", (), NamedDays(weekdays=frozenset({2}), place=1)),
        ("last friday", AB, NamedDays(weekdays=frozenset({4}), place=-1)),
        ("1st Mon", ("1st", "2nd"), NamedDays("1st", frozenset({0}))),  # its own label comes first
        ("C Mon", AB, None),
        ("A", (), None),
        ("first", (), None),
        ("first A", AB, None),
        ("sixth Mon", (), None),
        ("first Mon-Wed", (), None),
        ("Thu-Mon", (), None),
    ],
)
def test_a_part_is_read_by_the_labels_of_the_building(
    part: str, labels: tuple[str, ...], found: NamedDays | None
) -> None:
    assert read_part(part, labels) == found


def test_a_monday_of_a_weeks_is_no_monday_of_b_weeks() -> None:
    monday, tuesday = dt.date(2026, 9, 14), dt.date(2026, 9, 15)
    assert days_name("A Mon", monday, "A")
    assert not days_name("A Mon", monday, "B")
    assert not days_name("A Mon", tuesday, "A")
    assert days_name("A Mon, Tue", tuesday, "B")


def test_which_bells_ring_goes_from_the_month_to_the_label_to_the_weekday() -> None:
    """September 2026 begins on a Tuesday; its first week of school here is an A week."""
    bells = BellDefaults(
        "Regular",
        by_label={"A": "Long"},
        by_weekday={0: "Late Monday", 2: "Early Wednesday"},
        particular=[
            (NamedDays("A", frozenset({0})), "Assembly"),
            (NamedDays("B", frozenset({2})), "Short"),
            (NamedDays(weekdays=frozenset({2}), place=3), "Staff meeting"),
        ],
    )
    rotation = Rotation(RotationKind.AB_WEEKS, AB, anchor=dt.date(2026, 9, 7), anchor_label="A")
    days = lay_out_days(dt.date(2026, 9, 7), dt.date(2026, 9, 25), bells=bells, rotation=rotation, entries=[])
    rung = {day.date.day: day.bell for day in days.values()}
    # A week: Monday by its own rule, the rest by the label.
    assert [rung[day] for day in range(7, 12)] == ["Assembly", "Long", "Long", "Long", "Long"]
    # B week, whose Wednesday is the third of the month, which comes before "B Wed".
    assert [rung[day] for day in range(14, 19)] == ["Late Monday", "Regular", "Staff meeting", "Regular", "Regular"]
    assert rung[23] == "Long"


@pytest.mark.parametrize(
    ("one", "other", "meet"),
    [
        ("first Wed", "1st Wednesday", True),
        ("first Wed", "first Thu", False),
        ("first Wed", "last Wed", False),
        ("4th Wed", "last Wed", True),
        ("last Wed", "fifth Wed", True),
        ("4th Wed", "fifth Wed", False),
        ("first Wed", "Wed", False),
    ],
)
def test_two_rules_of_one_date_are_known_beforehand(one: str, other: str, meet: bool) -> None:
    """ "Wed" and "first Wed" aren't in each other's way: the rarer one wins."""
    first, second = read_part(one, ()), read_part(other, ())
    assert first is not None
    assert second is not None
    assert may_fall_together(first, second) is meet
