"""What is asked before a voucher is submitted. Which figures are worth a question is common practice, no source."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.mileage.chart import MilesSource
from travel.mileage.questions import AskedTrip, VoucherQuestion, questions_of

DAY = dt.date(2026, 10, 6)


def trip(key: str, day: int = 6, **more: Any) -> AskedTrip:
    """A trip of October 2026 from north to south, 12.4 miles on the road engine's chart."""
    made = AskedTrip(key, DAY.replace(day=day), "North", "South", Decimal("12.4"), MilesSource.ROAD)
    return replace(made, **more)


def read(key: str, before: str, after: str, day: int = 6, **more: Any) -> AskedTrip:
    """One whose odometer was read."""
    return trip(key, day, odometer=(Decimal(before), Decimal(after)), **more)


def kinds(*trips: AskedTrip, before: AskedTrip | None = None) -> list[str]:
    """What is asked, by its kind."""
    return [one.key.split("/")[0] for one in questions_of(trips, before)]


def only(*trips: AskedTrip) -> VoucherQuestion:
    """The one question."""
    (found,) = questions_of(trips)
    return found


def test_a_usual_month_is_asked_nothing() -> None:
    back: dict[str, Any] = {"origin": "South", "destination": "North"}
    month = [read("a", "100.0", "112.4"), read("b", "112.4", "124.8", **back), read("c", "130.0", "142.4", 7)]
    assert kinds(*month) == []
    assert kinds() == []


def test_readings_that_run_back_from_one_day_to_a_later_one() -> None:
    found = only(read("a", "100.0", "112.4"), read("b", "50.0", "62.4", 7))
    assert found.key == "odometer-runs-back/a/b/100.0/112.4/50.0/62.4"
    assert found.words == (
        "The odometer runs back: October 6, North to South ends at 112.4, and October 7, North to South begins at "
        "50.0. Was it another car?"
    )
    assert found.trips == ("a", "b")


def test_after_another_car_nothing_more_is_asked() -> None:
    """Each drive is held against the one before it, not against the highest reading of all."""
    month = [
        read("a", "90000", "90012"),
        *(read(key, f"{at}", f"{at + 12}", at) for key, at in (("b", 7), ("c", 20))),
    ]
    assert kinds(*month) == ["odometer-runs-back"]


@pytest.mark.parametrize("day", [6, 7])
def test_readings_that_overlap(day: int) -> None:
    """Whichever of one day was listed first."""
    other: dict[str, Any] = {"origin": "South", "destination": "West"}
    trips = [read("a", "110.0", "120.0", day, **other), read("b", "100.0", "112.4", 6)]
    assert kinds(*trips) == kinds(*trips[::-1]) == ["odometer-overlaps"]
    touching = [read("a", "112.4", "120.0", day, **other), read("b", "100.0", "112.4", 6)]
    assert kinds(*touching) == []


def test_the_last_reading_of_the_month_before_counts() -> None:
    september = replace(read("a", "100.0", "112.4"), day=dt.date(2026, 9, 30))
    assert kinds(read("b", "90.0", "99.0"), before=september) == ["odometer-runs-back"]
    assert kinds(read("b", "112.4", "124.8"), before=september) == []


def test_a_trip_that_a_week_called_for_and_that_was_added_too() -> None:
    assert only(trip("a"), trip("b", added=True)).words == (
        "October 6, North to South, is listed twice that day. Was it driven twice?"
    )
    assert kinds(trip("a"), trip("b")) == [], "two drives of one week are two drives"
    assert kinds(trip("a"), trip("b", 7, added=True)) == []
    assert kinds(trip("a"), trip("b", origin="South", destination="North", added=True)) == []


def test_there_and_back_beside_one_of_its_ways() -> None:
    whole = trip("b", round_trip=True, added=True)
    assert "by itself and as there and back" in only(trip("a"), whole).words
    assert "by itself and as there and back" in only(trip("a", origin="South", destination="North"), whole).words


def test_sixty_alike_are_one_question() -> None:
    found = only(*(trip(f"{number}", added=True, most_day_miles=2000) for number in range(60)))
    assert "is listed 60 times that day" in found.words


def test_the_same_readings_twice() -> None:
    """Both drives of one reading overlap, and are the same."""
    assert kinds(read("a", "100.0", "112.4"), read("b", "100.0", "112.4", destination="West")) == [
        "odometer-overlaps", "twice",
    ]  # fmt: skip


@pytest.mark.parametrize(("driven", "asked"), [("14.8", []), ("14.9", ["over-chart"]), ("5.0", [])])
def test_more_than_a_fifth_over_the_chart_is_asked_and_less_is_not(driven: str, asked: list[str]) -> None:
    """12.4 miles and a fifth are 14.88. Who claims less costs nobody anything."""
    assert kinds(trip("a", driven=Decimal(driven))) == asked
    assert kinds(trip("a", driven=Decimal(driven), share_percent=50)) == []
    assert kinds(trip("a", driven=Decimal(driven), direct_source=MilesSource.TYPED)) == []


def test_a_day_with_more_miles_than_likely() -> None:
    """13 drives of 12.4 miles are 161.2; each counts at the most that is said of it."""
    month = [trip(f"{number}", origin=f"{number}") for number in range(13)]
    assert kinds(*month) == []
    day = only(*(replace(one, most_day_miles=160) for one in month))
    assert day.words == "October 6 has 161.2 miles in all, more than 160. Is that right?"
    assert day.key == "long-day/20261006/161.2"


def test_parking_twice_at_one_place() -> None:
    paid: dict[str, Any] = {"parking_and_tolls": Decimal("3.50")}
    assert kinds(trip("a", **paid), trip("b", origin="West", **paid)) == ["parking-twice"]
    assert kinds(trip("a", **paid), trip("b", origin="West", parking_and_tolls=Decimal("3.00"))) == []
    assert kinds(trip("a", **paid), trip("b", origin="South", destination="North", **paid)) == []


def test_a_key_stays_while_the_figures_do_and_is_another_when_they_change() -> None:
    """So an answer is for what was asked, and for nothing else."""
    one, same, other = (only(trip("a", driven=Decimal(miles))).key for miles in ("20.0", "20.0", "21.0"))
    assert one == same != other


TRIPS = st.lists(
    st.builds(
        lambda key, day, before, miles, added: read(
            f"{key}", f"{before}", f"{before + miles}", day, added=added, driven=Decimal(miles)
        ),
        st.integers(1, 9), st.integers(1, 28), st.integers(0, 500), st.integers(0, 300), st.booleans(),
    ),
    max_size=12,
)  # fmt: skip


@given(TRIPS)
def test_no_question_is_asked_twice_and_each_names_its_trips(trips: list[AskedTrip]) -> None:
    found = questions_of(trips)
    assert len({one.key for one in found}) == len(found)
    keys = {one.key for one in trips}
    assert all(one.trips and keys.issuperset(one.trips) and one.words.endswith("?") for one in found)
