"""Where miles come from, what differs from the chart, and totals that are rounded once."""

import datetime as dt
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.mileage.chart import ChartMiles, MilesSource, is_off_chart, off_chart_percent, there_and_back
from travel.mileage.claims import DrivenLeg, claim_line
from travel.mileage.entries import Entry, entry_of, settled, supplement_entries
from travel.mileage.rates import Rate
from travel.mileage.rules import Distance, MileageRules, Rounding, rules_in_words

DAY = dt.date(2026, 10, 6)
ROAD, TYPED, ESTIMATE = MilesSource.ROAD, MilesSource.TYPED, MilesSource.ESTIMATE
BY_TOTAL = MileageRules(by_total=True)


def leg(direct: str | None, driven: str | None = None, **more: object) -> DrivenLeg:
    """A leg between two schools."""
    miles = [None if one is None else Decimal(one) for one in (direct, driven)]
    return DrivenLeg(DAY, "NORTH", "SOUTH", *miles, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("driven", "percent", "off"),
    [("12.0", 20, False), ("12.1", 21, True), ("8.0", -20, False), ("7.9", -21, True), ("10.0", 0, False)],
)
def test_a_fifth_of_the_chart_is_the_share(driven: str, percent: int, off: bool) -> None:
    """10 miles and 20 %: two miles either way are within it (a share is the district's; arithmetic)."""
    line = claim_line(leg("10.0", driven, direct_source=ROAD), MileageRules(share_percent=20))
    assert (line.off_chart_percent, line.off_chart) == (percent, off)


def test_a_parking_lot_is_no_difference() -> None:
    """Common practice, no source: 0.9 for 0.4 miles is half a mile, whatever it is in percent."""
    assert not is_off_chart(Decimal("0.9"), Decimal("0.4"), ROAD, 20)
    assert is_off_chart(Decimal("1.0"), Decimal("0.4"), ROAD, 20)
    assert off_chart_percent(Decimal("0.9"), Decimal("0.4"), ROAD) == 125


@pytest.mark.parametrize(
    ("direct", "driven", "source"),
    [("10.0", None, ROAD), (None, "9.0", ROAD), ("0.0", "9.0", ROAD), ("1.0", "9.0", TYPED)],
)
def test_without_two_independent_figures_nothing_differs(
    direct: str | None, driven: str | None, source: MilesSource
) -> None:
    """What the driver typed is no chart to hold the driver's other figure against."""
    line = claim_line(leg(direct, driven, direct_source=source), MileageRules(distance=Distance.DRIVEN))
    assert (line.off_chart_percent, line.off_chart) == (None, False)


READ = {"odometer": (Decimal("40312.0"), Decimal("40323.9")), "direct_source": ROAD}


def test_a_line_says_whose_its_miles_are() -> None:
    """Odometer with both readings, the road engine, what was typed: by what counts under the rule."""
    said = {
        name: entry_of("A", claim_line(one, rules), rules).source_words
        for name, one, rules in (
            ("odometer", leg("12.4", "11.9", **READ), MileageRules()),
            ("chart", leg("11.0", "11.9", **READ), MileageRules()),
            ("direct", leg("12.4", "11.9", **READ), MileageRules(distance=Distance.DIRECT)),
            ("driven", leg("12.4", "13.0", direct_source=ROAD), MileageRules(distance=Distance.DRIVEN)),
            ("estimate", leg("12.4", direct_source=ESTIMATE), MileageRules()),
            ("typed", leg("12.4", direct_source=TYPED), MileageRules()),
            ("old", leg("12.4"), MileageRules()),
        )
    }  # fmt: skip
    assert said == {
        "odometer": "odometer 40312.0 to 40323.9",
        "chart": "road engine; read: odometer 40312.0 to 40323.9",
        "direct": "road engine; read: odometer 40312.0 to 40323.9",
        "driven": "typed by the driver",
        "estimate": "estimate from coordinates",
        "typed": "typed by the driver",
        "old": "",
    }
    off = entry_of("A", claim_line(leg("10.0", "13.0", direct_source=ROAD), MileageRules()), MileageRules())
    assert off.off_chart_words == "driven 30 % more than the 10.0 miles of the chart (road engine)"


def test_two_ways_are_as_sure_as_the_less_sure_of_them() -> None:
    """There along the road engine's roads and back by the estimate is an estimate."""
    road, guess = ChartMiles(Decimal("5.1"), ROAD), ChartMiles(Decimal("5.0"), ESTIMATE)
    assert there_and_back([road, guess]) == ChartMiles(Decimal("10.1"), ESTIMATE)
    assert there_and_back([road]) == road
    assert there_and_back([road, None]) is None
    assert there_and_back([]) is None


# ---- one rounding of the total -----------------------------------------------------------------------------

RATES = (Rate(dt.date(2026, 1, 1), Decimal("0.7255")),)
MILES = st.lists(st.decimals(0, 80, places=1), min_size=1, max_size=12)
KEYED = st.dictionaries(st.sampled_from("ABCDEFGH"), st.decimals(0, 80, places=1), max_size=8)


def lines(miles: dict[str, Decimal], rules: MileageRules) -> list[Entry]:
    """A month's lines, rounded as a voucher rounds them."""
    made = [(key, DrivenLeg(DAY, "NORTH", "SOUTH", one)) for key, one in miles.items()]
    return list(settled(entry_of(key, claim_line(one, rules), rules) for key, one in made))


def once(miles: dict[str, Decimal]) -> Decimal:
    """The sum of all miles at 72.55 cents, rounded once: arithmetic, not the core."""
    return (sum(miles.values(), Decimal(0)) * Decimal("0.7255")).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def test_three_half_cents_are_a_cent_and_a_half_in_total() -> None:
    """Three miles at 72.5 cents are $2.175, so $2.18; each line rounded by itself makes $2.19."""
    one = dict.fromkeys("ABC", Decimal(1))
    by_line, by_total = lines(one, MileageRules()), lines(one, BY_TOTAL)
    assert [entry.amount for entry in by_line] == [Decimal("0.73")] * 3
    assert [entry.amount for entry in by_total] == [Decimal("0.73"), Decimal("0.72"), Decimal("0.73")]


@given(KEYED)
def test_a_total_that_is_rounded_once_is_the_sum_of_its_printed_lines(miles: dict[str, Decimal]) -> None:
    rules = MileageRules(by_total=True, rates=RATES)
    found = lines(miles, rules)
    assert sum((one.amount for one in found), Decimal(0)) == once(miles)
    assert all(abs(one.amount - one.exact) <= Decimal("0.01") for one in found), (
        "no line strays by more than a cent"
    )


@given(KEYED, KEYED, KEYED)
def test_vouchers_and_supplements_add_up_to_the_total_rounded_once(
    first: dict[str, Decimal], second: dict[str, Decimal], third: dict[str, Decimal]
) -> None:
    """However often it is corrected, all that was claimed together is the exact sum in whole cents."""
    rules = MileageRules(by_total=True, rates=RATES)
    submitted: list[Entry] = []
    for state in (first, second, third):
        submitted += supplement_entries(submitted, lines(state, rules))
        assert sum((one.amount for one in submitted), Decimal(0)) == once(state)
    assert supplement_entries(submitted, lines(third, rules)) == ()


def test_a_dollar_of_parking_claims_a_dollar_under_a_rounded_total() -> None:
    """The cents of the miles stay where they were."""
    before = lines(dict.fromkeys("ABC", Decimal(1)), BY_TOTAL)
    legs = [DrivenLeg(DAY, "NORTH", "SOUTH", Decimal(1), parking=Decimal(place == 1)) for place in range(3)]
    now = settled(entry_of(key, claim_line(one, BY_TOTAL), BY_TOTAL) for key, one in zip("ABC", legs, strict=True))
    back, again = supplement_entries(before, now)
    assert back.total + again.total == 1


@pytest.mark.parametrize("rounding", Rounding)
def test_which_sum_is_rounded_is_said(rounding: Rounding) -> None:
    """By its words a finance office can tell the two apart, under each rule of rounding."""
    by_line, by_total = (rules_in_words(MileageRules(rounding=rounding, by_total=one)) for one in (False, True))
    assert "each line is rounded once" in by_line
    assert "the total is rounded once" in by_total
