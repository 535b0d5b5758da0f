"""Rates without a gap, rules of a day, and what a supplement says is the same."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest

from travel.mileage.claims import DrivenLeg, claim_line
from travel.mileage.entries import Entry, entry_of, supplement_entries
from travel.mileage.rates import STANDARD_RATES, MileageError, Rate, rate_on
from travel.mileage.rules import HomeLegs, MileageBook, MileageRules, MileageTerms

DAY = dt.date(2026, 10, 6)


def entry(**changes: object) -> Entry:
    """A line of a voucher for a trip of 12.4 miles, with some of it otherwise."""
    made = entry_of(
        "A", claim_line(DrivenLeg(DAY, "NORTH", "SOUTH", Decimal("12.4")), MileageRules()), MileageRules()
    )
    return replace(made, **changes)  # type: ignore[arg-type]  # any field, by name


def test_the_published_rates_leave_no_day_out_and_none_to_two() -> None:
    """Each notice ends on the day before the next begins; IRS Announcement 2022-13 ended the first on June 30."""
    for before, after in pairwise(STANDARD_RATES):
        assert before.last_day is not None
        assert before.last_day + dt.timedelta(days=1) == after.first_day
    june = [rate for rate in STANDARD_RATES if rate.first_day == dt.date(2022, 1, 1)]
    assert rate_on(dt.date(2022, 6, 30), june) == june[0]
    with pytest.raises(MileageError, match="July 1, 2022"):
        rate_on(dt.date(2022, 7, 1), june)


def test_a_district_pays_its_own_rates() -> None:
    """Half a dollar a mile, whatever the standard is."""
    own = (Rate(dt.date(2026, 1, 1), Decimal("0.50")),)
    assert MileageBook(rates=own).on(DAY).rates == own


@pytest.mark.parametrize(("day", "told"), [(1, False), (2, True), (31, True), (32, False)])
def test_a_change_of_rules_within_a_month_is_told(day: int, told: bool) -> None:
    """From its second day to its last; rules that begin with the month are the month's."""
    begins = dt.date(2026, 9, 30) + dt.timedelta(days=day)
    terms = (MileageTerms(dt.date(2026, 1, 1)), MileageTerms(begins, home_legs=HomeLegs.OTHER_PLACES))
    words = MileageBook(terms).in_words(dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    assert words.count("From ") == (2 if told else 0)


def test_changes_are_told_in_the_order_of_their_days() -> None:
    """Ten of them, entered last first: each other day the first and last legs are paid."""
    paid = (HomeLegs.NEVER, HomeLegs.OTHER_PLACES)
    days = [dt.date(2026, 10, day) for day in range(2, 12)]
    terms = [MileageTerms(day, home_legs=paid[place % 2]) for place, day in enumerate(days, start=1)]
    words = MileageBook(tuple(reversed(terms))).in_words(dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    places = [words.index(f"From October {day.day}, 2026") for day in days]
    assert places == sorted(places)


def test_a_trip_of_the_same_distances_keeps_all_that_was_claimed() -> None:
    """Miles, rate, where the rate is from, amount and rule; the note is today's."""
    was = entry(miles=Decimal(5), rate=Decimal("0.5"), rate_source="own", amount=Decimal("2.50"), rule="as it was")
    now = entry(note="detour")
    assert now.priced_like(was) == replace(was, note="detour")
    assert now.priced_like(None) == now
    longer = replace(now, driven=Decimal(20))
    assert longer.priced_like(was) == longer


@pytest.mark.parametrize("field", ["origin", "destination", "rate_source", "rule"])
def test_other_words_for_the_same_claim_nothing(field: str) -> None:
    """A school's new name or a rule said otherwise is no change, even where all is priced again."""
    assert supplement_entries([entry()], [entry(**{field: "in other words"})], reprice=True) == ()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("miles", Decimal(1)),
        ("rate", Decimal(1)),
        ("amount", Decimal(1)),
        ("parking", Decimal(1)),
        ("note", "detour"),
        ("direct", Decimal(1)),
        ("driven", Decimal(1)),
    ],
)
def test_another_figure_or_note_is_a_change(field: str, value: object) -> None:
    """The earlier line is taken back and the new one put."""
    found = supplement_entries([entry()], [entry(**{field: value})], reprice=True)
    assert [one.takes_back for one in found] == [True, False]
