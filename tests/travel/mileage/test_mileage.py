"""Mileage against the published rates and the cases of IRS Publication 463, Figure B."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from travel.mileage.claims import DrivenLeg, claim_line
from travel.mileage.entries import Entry, entry_of, supplement_entries
from travel.mileage.foreseen import TripClaim, changes_in_words
from travel.mileage.rates import STANDARD_RATES, MileageError, Rate, rate_on
from travel.mileage.rules import (
    Distance,
    HomeBase,
    HomeLegs,
    LegEnd,
    MileageBook,
    MileageRules,
    MileageTerms,
    Rounding,
    rules_in_words,
)

DAY = dt.date(2026, 10, 6)


def leg(day: dt.date = DAY, direct: str = "12.4", **others: object) -> DrivenLeg:
    """A leg between two schools."""
    return DrivenLeg(day, "NORTH", "SOUTH", Decimal(direct), **others)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("day", "cents"),
    [
        ("2015-03-02", "57.5"), ("2016-03-02", "54"), ("2017-03-02", "53.5"), ("2018-03-02", "54.5"),
        ("2019-03-02", "58"), ("2020-03-02", "57.5"), ("2021-03-02", "56"), ("2022-06-30", "58.5"),
        ("2022-07-01", "62.5"), ("2023-03-02", "65.5"), ("2024-03-02", "67"), ("2025-03-03", "70"),
        ("2026-03-02", "72.5"),
    ],
)  # fmt: skip
def test_the_published_rates(day: str, cents: str) -> None:
    """IRS standard business rates, cents a mile; Announcement 2022-13 changed them on July 1, 2022."""
    assert rate_on(dt.date.fromisoformat(day), STANDARD_RATES).dollars * 100 == Decimal(cents)


@pytest.mark.parametrize("year", range(2015, 2027))
def test_a_years_rate_begins_on_the_first_of_january(year: int) -> None:
    """Each IRS notice sets the rate "beginning on January 1", so New Year's Day is paid like 2 March."""
    first, later = dt.date(year, 1, 1), dt.date(year, 3, 2)
    assert rate_on(first, STANDARD_RATES) == rate_on(later, STANDARD_RATES)


@pytest.mark.parametrize(("day", "amount"), [("2022-06-30", "7.25"), ("2022-07-01", "7.75")])
def test_the_change_in_the_middle_of_2022(day: str, amount: str) -> None:
    """12.4 miles: $7.254 on June 30 and $7.75 on July 1, 2022 (computed from the published rates)."""
    assert claim_line(leg(dt.date.fromisoformat(day)), MileageRules()).amount == Decimal(amount)


def test_a_day_before_every_rate_says_what_to_add() -> None:
    """No rate is made up."""
    with pytest.raises(MileageError, match="Add the rate"):
        rate_on(dt.date(2014, 12, 31), STANDARD_RATES)


@pytest.mark.parametrize(
    ("origin", "destination", "paid"),
    [
        (LegEnd.HOME, LegEnd.REGULAR, False),
        (LegEnd.REGULAR, LegEnd.HOME, False),
        (LegEnd.HOME, LegEnd.OTHER, True),
        (LegEnd.REGULAR, LegEnd.OTHER, True),
        (LegEnd.OTHER, LegEnd.OTHER, True),
    ],
)
def test_publication_463_figure_b(origin: LegEnd, destination: LegEnd, paid: bool) -> None:
    """Home to the regular place of work never; home to another place, and between two places, yes."""
    rules = MileageRules(home_legs=HomeLegs.OTHER_PLACES)
    line = claim_line(leg(origin_kind=origin, destination_kind=destination), rules)
    assert (line.miles > 0) is paid


def test_first_and_last_legs_are_left_out_by_district_practice() -> None:
    """Read in several district policies: first and last legs excluded."""
    line = claim_line(leg(origin_kind=LegEnd.HOME), MileageRules())
    assert line.miles == line.amount == 0
    assert "first or last leg" in line.rule


@pytest.mark.parametrize(
    ("choice", "miles"), [(Distance.DIRECT, "12.4"), (Distance.DRIVEN, "11.9"), (Distance.SHORTER, "11.9")]
)
def test_the_shorter_of_chart_and_odometer(choice: Distance, miles: str) -> None:
    """Read in several district policies: where the two differ, the shorter wins."""
    driven = leg(driven=Decimal("11.9"))
    assert claim_line(driven, MileageRules(distance=choice)).miles == Decimal(miles)


def test_only_what_exceeds_the_commute() -> None:
    """Some districts pay a leg from home only above the normal commute."""
    rules = MileageRules(home_legs=HomeLegs.ABOVE_COMMUTE, commute_miles=Decimal("9.0"))
    assert claim_line(leg(origin_kind=LegEnd.HOME), rules).miles == Decimal("3.4")
    assert claim_line(leg(direct="5.0", origin_kind=LegEnd.HOME), rules).miles == 0
    there_and_back = leg(direct="24.8", origin_kind=LegEnd.HOME, round_trip=True)
    assert claim_line(there_and_back, rules).miles == Decimal("6.8")
    with pytest.raises(MileageError, match="normal commute isn't known"):
        claim_line(leg(origin_kind=LegEnd.HOME), MileageRules(home_legs=HomeLegs.ABOVE_COMMUTE))


def test_a_long_way_to_the_regular_place_is_paid_above_the_commute() -> None:
    """The same districts pay a detour on the way to one's own school: 12.4 miles on a commute of 9 are 3.4."""
    rules = MileageRules(home_legs=HomeLegs.ABOVE_COMMUTE, commute_miles=Decimal("9.0"))
    there = leg(origin_kind=LegEnd.HOME, destination_kind=LegEnd.REGULAR)
    assert claim_line(there, rules).miles == Decimal("3.4")


@pytest.mark.parametrize(("driven", "miles"), [("11.9", "11.9"), ("12.4", "12.4"), ("13.0", "12.4")])
def test_the_shorter_is_the_lesser_of_the_two(driven: str, miles: str) -> None:
    """Whichever of chart and odometer is the longer."""
    one = leg(driven=Decimal(driven))
    assert claim_line(one, MileageRules(distance=Distance.SHORTER)).miles == Decimal(miles)


def test_without_a_reading_the_chart_counts() -> None:
    """ "The driven distance counts, the direct one where the odometer wasn't read", as the voucher says."""
    assert claim_line(leg(), MileageRules(distance=Distance.DRIVEN)).miles == Decimal("12.4")


def test_a_line_says_how_its_miles_came_about() -> None:
    """Which distance was taken stands only where miles are paid; two ways stand only where there are two."""
    other, never = MileageRules(home_legs=HomeLegs.OTHER_PLACES), MileageRules()
    rules = [claim_line(leg(origin_kind=LegEnd.HOME), paying).rule for paying in (other, never)]
    assert ["distance" in rule for rule in rules] == [True, False]
    above = MileageRules(home_legs=HomeLegs.ABOVE_COMMUTE, commute_miles=Decimal(2))
    ways = [claim_line(leg(origin_kind=LegEnd.HOME, round_trip=both), above).rule for both in (False, True)]
    assert ["each way" in rule for rule in ways] == [False, True]
    assert ["there and back" in rule for rule in ways] == [False, True]


def test_each_choice_of_rules_has_words_of_its_own() -> None:
    """A finance office can tell from the sentence which of the 27 sets of rules a voucher follows."""
    sentences = {
        rules_in_words(MileageRules(home_legs=home, distance=distance, rounding=rounding))
        for home in HomeLegs
        for distance in Distance
        for rounding in Rounding
    }
    assert len(sentences) == 27


def test_a_distance_that_nobody_knows_is_asked_for() -> None:
    """No miles are made up; the rule that counts driven miles needs no chart."""
    unknown = DrivenLeg(DAY, "NORTH", "SOUTH", None)
    with pytest.raises(MileageError, match="Enter the direct miles"):
        claim_line(unknown, MileageRules())
    driven = DrivenLeg(DAY, "NORTH", "SOUTH", None, Decimal("12.4"))
    assert claim_line(driven, MileageRules(distance=Distance.DRIVEN)).amount == Decimal("8.99")


def test_floating_point_is_refused() -> None:
    """Miles are Decimal."""
    with pytest.raises(MileageError, match="Decimal"):
        DrivenLeg(DAY, "NORTH", "SOUTH", 12.4)  # type: ignore[arg-type]


@pytest.mark.parametrize("field", ["direct", "driven", "parking", "tolls"])
def test_nothing_is_below_nought(field: str) -> None:
    """Nobody drives a negative way or is paid at a toll gate."""
    with pytest.raises(MileageError, match=field):
        DrivenLeg(**{"day": DAY, "origin": "NORTH", "destination": "SOUTH", "direct": None, field: Decimal("-0.1")})  # type: ignore[arg-type]  # one field by name


def test_half_cents_round_by_the_named_rule() -> None:
    """1 mile at 72.5 cents is half a cent above 72: the rule decides."""
    amounts = {rule: claim_line(leg(direct="1.0"), MileageRules(rounding=rule)).amount for rule in Rounding}
    assert amounts == {
        Rounding.HALF_UP: Decimal("0.73"), Rounding.HALF_EVEN: Decimal("0.72"), Rounding.DOWN: Decimal("0.72"),
    }  # fmt: skip


def entries(lines: list[tuple[str, Decimal]]) -> list[Entry]:
    """Lines of a voucher, by key and miles, each with a dollar and a quarter at a meter."""
    meter = Decimal("1.25")
    legs = [(key, leg(direct=str(miles), parking=meter)) for key, miles in lines]
    return [entry_of(key, claim_line(one, MileageRules()), MileageRules()) for key, one in legs]


@given(st.decimals(0, 80, places=1), st.decimals(0, 20, places=2))
def test_a_line_and_the_line_that_takes_it_back_come_to_nothing(miles: Decimal, parking: Decimal) -> None:
    """Double entry: miles, mileage, parking and the sum each cancel, and a total is the sum of its two parts."""
    one = entry_of(
        "A", claim_line(leg(direct=str(miles), parking=parking), MileageRules()), MileageRules(), "a note"
    )
    back = one.taken_back()
    assert one.total == one.amount + parking
    assert one.miles + back.miles == one.amount + back.amount == 0
    assert one.parking_and_tolls + back.parking_and_tolls == one.total + back.total == 0
    assert one.rule in back.rule
    assert one.rule != back.rule
    assert one.note == back.note == "a note"


KEYED = st.dictionaries(st.sampled_from("ABCDEF"), st.decimals(0, 80, places=1), max_size=6)


@given(KEYED, KEYED, KEYED)
def test_vouchers_and_supplements_add_up_to_what_is_right(
    first: dict[str, Decimal], second: dict[str, Decimal], third: dict[str, Decimal]
) -> None:
    """Whatever changed, and changed again: miles and money of all together are those of the last state."""
    submitted = entries(list(first.items()))
    for state in (second, third):
        submitted += supplement_entries(submitted, entries(list(state.items())))
    right = entries(list(third.items()))
    assert sum((one.miles for one in submitted), Decimal(0)) == sum((one.miles for one in right), Decimal(0))
    assert sum((one.total for one in submitted), Decimal(0)) == sum((one.total for one in right), Decimal(0))
    parking = sum((one.parking_and_tolls for one in submitted), Decimal(0))
    assert parking == len(third) * Decimal("1.25")
    assert supplement_entries(submitted, right) == ()


def test_lines_of_a_day_stay_in_the_order_in_which_they_were_driven() -> None:
    """A finance office follows the day from stop to stop."""
    lines = entries([("Z", Decimal(1)), ("A", Decimal(2)), ("M", Decimal(3))])
    assert [one.key for one in supplement_entries([], lines)] == ["Z", "A", "M"]


def test_a_supplement_takes_the_wrong_line_back_and_puts_the_right_one() -> None:
    """12.4 miles were claimed, 11.9 were right: -$8.99 and +$8.63 (72.5 cents a mile, 2026)."""
    before, after = entries([("A", Decimal("12.4")), ("B", Decimal(5))]), entries([("A", Decimal("11.9"))])
    found = supplement_entries(before, [*after, before[1]])
    assert [(one.miles, one.amount, one.takes_back) for one in found] == [
        (Decimal("-12.4"), Decimal("-8.99"), True), (Decimal("11.9"), Decimal("8.63"), False),
    ]  # fmt: skip


def test_a_dollar_of_parking_claims_a_dollar_whatever_the_rules_have_become() -> None:
    """The miles of a trip that didn't change stay as they were claimed: 12.4 at 72.5 cents are $8.99 (2026)."""
    [before] = entries([("A", Decimal("12.4"))])
    dearer = replace(before, rate=Decimal("0.80"), amount=Decimal("9.92"), rule="another rule", origin="New Name")
    assert supplement_entries([before], [dearer]) == ()
    fewer = replace(dearer, miles=Decimal(3), rate_source="a board")
    back, again = supplement_entries([before], [replace(fewer, parking=before.parking + 1)])
    assert back == before.taken_back()
    assert again == replace(before, origin="New Name", parking=before.parking + 1)
    assert back.total + again.total == 1


def test_a_trip_that_was_longer_is_priced_as_its_day_is_now() -> None:
    """13.0 miles at 80 cents are $10.40, the $8.99 of before is taken back; the trip beside it stays."""
    before = entries([("A", Decimal("12.4")), ("B", Decimal(5))])
    dearer = [replace(one, rate=Decimal("0.80"), amount=one.miles * Decimal("0.80")) for one in before]
    longer = replace(dearer[0], driven=Decimal(13), direct=Decimal(13), miles=Decimal(13), amount=Decimal("10.40"))
    found = supplement_entries(before, [longer, dearer[1]])
    assert [(one.key, one.amount) for one in found] == [("A", Decimal("-8.99")), ("A", Decimal("10.40"))]


def test_a_month_that_is_priced_again_claims_every_line_that_differs() -> None:
    """80 cents a mile: 12.4 miles are $9.92 instead of $8.99; a line that is paid the same is no line."""
    before = entries([("A", Decimal("12.4")), ("B", Decimal(0))])
    dearer = [replace(one, rate=Decimal("0.80"), amount=one.miles * Decimal("0.80")) for one in before]
    found = supplement_entries(before, [dearer[0], before[1]], reprice=True)
    assert [one.amount for one in found] == [Decimal("-8.99"), Decimal("9.92")]
    renamed = [replace(one, destination="New Name", rule="said otherwise", rate_source="a board") for one in before]
    assert supplement_entries(before, renamed, reprice=True) == ()


# ---- what holds from a day on ------------------------------------------------------------------------------

BOOK = MileageBook(
    terms=(
        MileageTerms(dt.date(2026, 8, 1), HomeLegs.OTHER_PLACES),
        MileageTerms(dt.date(2026, 10, 6), HomeLegs.NEVER, Distance.DRIVEN, Rounding.DOWN),
    ),
    homes=(
        HomeBase(dt.date(2026, 8, 1), Decimal(6), frozenset({1})),
        HomeBase(dt.date(2026, 10, 12), Decimal(9), frozenset({1, 2})),
    ),
)


def test_each_day_has_the_rules_that_had_begun_by_then() -> None:
    """Common practice, no source: a board's decision holds from its day on and leaves the days before alone."""
    before, last, first = (BOOK.on(dt.date(2026, *day)) for day in ((7, 31), (10, 5), (10, 6)))
    assert before == MileageRules(rates=BOOK.rates, has_regular_place=False)
    assert (last.home_legs, last.distance, last.rounding) == (
        HomeLegs.OTHER_PLACES, Distance.SHORTER, Rounding.HALF_UP,
    )  # fmt: skip
    assert (first.home_legs, first.distance, first.rounding) == (HomeLegs.NEVER, Distance.DRIVEN, Rounding.DOWN)
    assert [BOOK.on(dt.date(2026, 10, day)).commute_miles for day in (11, 12)] == [Decimal(6), Decimal(9)]
    own = replace(BOOK, rates=STANDARD_RATES[-1:])
    assert own.on(dt.date(2026, 10, 5)).rates == STANDARD_RATES[-1:]


def test_home_to_any_regular_place_is_commuting() -> None:
    """Publication 463, "Commuting expenses": between home and your main or regular place of work, one or more.

    On October 11 the second school is a temporary place, and the way there is paid; from October 12 on it isn't.
    """
    assert [BOOK.end_kind(2, dt.date(2026, 10, day)) for day in (11, 12)] == [LegEnd.OTHER, LegEnd.REGULAR]
    assert BOOK.end_kind(1, dt.date(2026, 7, 31)) is LegEnd.OTHER
    assert BOOK.end_kind(None, dt.date(2026, 7, 31)) is LegEnd.HOME
    rules = MileageRules(home_legs=HomeLegs.OTHER_PLACES)
    paid = [
        claim_line(leg(origin_kind=LegEnd.HOME, destination_kind=BOOK.end_kind(2, dt.date(2026, 10, day))), rules)
        for day in (11, 12)
    ]
    assert [line.miles for line in paid] == [Decimal("12.4"), Decimal(0)]


@pytest.mark.parametrize("rule", HomeLegs)
@pytest.mark.parametrize(
    ("origin", "destination", "paid"),
    [
        (LegEnd.HOME, LegEnd.REGULAR, "0"),
        (LegEnd.REGULAR, LegEnd.HOME, "0"),
        (LegEnd.HOME, LegEnd.OTHER, "4.50"),
        (LegEnd.REGULAR, LegEnd.OTHER, "4.50"),
        (LegEnd.OTHER, LegEnd.REGULAR, "4.50"),
    ],
)
def test_parking_and_tolls_of_a_commute_are_not_paid(
    rule: HomeLegs, origin: LegEnd, destination: LegEnd, paid: str
) -> None:
    """Publication 463, "Parking fees": those at the place of work are commuting, those of visits are business."""
    one = leg(origin_kind=origin, destination_kind=destination, parking=Decimal("4.50"))
    line = claim_line(one, MileageRules(home_legs=rule, commute_miles=Decimal(6)))
    assert line.parking_and_tolls == Decimal(paid)
    assert ("of a commute aren't paid" in line.rule) is (paid == "0")
    assert entry_of("A", line, MileageRules()).parking_and_tolls == Decimal(paid)


def test_a_commute_without_parking_says_nothing_of_it() -> None:
    """The rule of a line speaks of what is there."""
    one = leg(origin_kind=LegEnd.HOME, destination_kind=LegEnd.REGULAR)
    assert "parking" not in claim_line(one, MileageRules()).rule


def test_a_year_whose_rate_is_not_known_is_not_paid_at_last_years() -> None:
    """Each IRS notice sets the rates of one calendar year (2022 had two: Announcement 2022-13)."""
    assert rate_on(dt.date(2026, 12, 31), STANDARD_RATES).dollars == Decimal("0.725")
    with pytest.raises(MileageError, match=r"January 1, 2027\. Add the rate"):
        rate_on(dt.date(2027, 1, 1), STANDARD_RATES)
    days = [(rate.first_day, rate.last_day) for rate in STANDARD_RATES]
    assert days[-1][1] == dt.date(2026, 12, 31)
    assert all(end == begin - dt.timedelta(days=1) for (_, end), (begin, _) in pairwise(days)), "no gap, no overlap"
    own = (*STANDARD_RATES, Rate(dt.date(2027, 1, 1), Decimal("0.70")))
    assert rate_on(dt.date(2029, 5, 5), own).dollars == Decimal("0.70")


def test_a_month_in_which_the_rules_change_says_both_and_since_when() -> None:
    """And one in which nothing of them changes says them once, as does a change that changes no rule's words."""
    october = BOOK.in_words(dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    assert october == (
        f"From October 1, 2026: {rules_in_words(BOOK.on(dt.date(2026, 10, 1)))} "
        f"From October 6, 2026: {rules_in_words(BOOK.on(dt.date(2026, 10, 6)))}"
    )
    assert BOOK.in_words(dt.date(2026, 9, 1), dt.date(2026, 9, 30)) == rules_in_words(BOOK.on(dt.date(2026, 9, 15)))
    until = BOOK.in_words(dt.date(2026, 10, 1), dt.date(2026, 10, 6))
    assert until == october, "the last day counts"
    assert BOOK.in_words(dt.date(2026, 10, 6), dt.date(2026, 10, 31)) == rules_in_words(
        BOOK.on(dt.date(2026, 10, 6))
    )


def test_a_choice_that_differs_from_publication_463_says_so() -> None:
    """Only paying all but the way to and from regular places is the publication's own."""
    said = {home: "the district's own rule" in rules_in_words(MileageRules(home_legs=home)) for home in HomeLegs}
    assert said == {HomeLegs.NEVER: True, HomeLegs.OTHER_PLACES: False, HomeLegs.ABOVE_COMMUTE: True}


# ---- what a change would change ----------------------------------------------------------------------------


def trip_claim(dollars: str | None, month: int = 10, teacher: int = 1, *, submitted: bool = False) -> TripClaim:
    """A confirmed trip of 2026."""
    return TripClaim(teacher, dt.date(2026, month, 1), submitted, None if dollars is None else Decimal(dollars))


def test_only_what_changes_is_told_by_month() -> None:
    """Two trips of October change and one of November by two teachers; a third of October stays as it is."""
    before = {1: trip_claim("8.99"), 2: trip_claim("1.00"), 3: trip_claim("5.00"), 4: trip_claim("2.00", 11)}
    after = {**before, 1: trip_claim("9.92"), 3: trip_claim("6.00"), 4: trip_claim("2.50", 11)}
    assert changes_in_words(before, after) == [
        "October 2026, 2 trips: $13.99 now, $15.92 then.",
        "November 2026, 1 trip: $2.00 now, $2.50 then.",
    ]
    assert changes_in_words(before, before) == []
    others = {1: trip_claim("9.92"), 5: trip_claim("3.00", teacher=2)}
    told = changes_in_words({1: trip_claim("8.99"), 5: trip_claim("2.00", teacher=2)}, others)
    assert told == ["October 2026, 2 trips of 2 teachers: $10.99 now, $12.92 then."]


def test_what_was_submitted_is_told_apart_and_what_is_lost_is_said() -> None:
    """A voucher is a copy: it stays. A trip that can't be worked out any more is no zero."""
    before = {1: trip_claim("8.99", submitted=True), 2: trip_claim("4.00")}
    told = changes_in_words(before, {1: trip_claim("9.92", submitted=True), 2: trip_claim(None)})
    assert len(told) == 2
    assert told[0].startswith("October 2026, 1 trip: $4.00 now, $0.00 then. 1 of them can't be worked out then")
    assert told[1].startswith("1 trip of submitted months would be paid differently. What was submitted stays")
