"""IRS Publication 463, chapter 4, "Transportation", case by case, under the one rule that is the publication's own
(`HomeLegs.OTHER_PLACES`); each other choice of a district says on the voucher that it is the district's.

Headings are the publication's, sentences ours. Read in copies of earlier editions: Figure B, temporary work
location, no regular place of work, two places of work (Revenue Ruling 99-7 says the same of the first three).
Parking fees are from memory. What is said of reservists, hauled tools, advertising on a car, car pools, union halls
and an office in the home is nothing that a trip between schools holds, and isn't modeled.
"""

import datetime as dt
from decimal import Decimal

import pytest

from travel.mileage.claims import ClaimLine, DrivenLeg, claim_line
from travel.mileage.rules import Distance, HomeBase, HomeLegs, LegEnd, MileageBook, MileageTerms, rules_in_words

DAY = dt.date(2026, 10, 6)
HOME, MAIN, SECOND, VISITED = None, 1, 2, 3
MILES = Decimal("12.4")


def claimed(
    origin: int | None,
    destination: int | None,
    *,
    regular: tuple[int, ...] = (MAIN,),
    day: dt.date = DAY,
    parking: str = "0",
) -> ClaimLine:
    """A leg between home and schools, by the publication's rule and the driver's regular places."""
    book = MileageBook(
        terms=(MileageTerms(dt.date(2025, 1, 1), HomeLegs.OTHER_PLACES, Distance.DIRECT),),
        homes=(HomeBase(dt.date(2025, 1, 1), None, frozenset(regular)),),
    )
    leg = DrivenLeg(
        day, "A", "B", MILES,
        origin_kind=book.end_kind(origin, day), destination_kind=book.end_kind(destination, day),
        parking=Decimal(parking),
    )  # fmt: skip
    return claim_line(leg, book.on(day))


@pytest.mark.parametrize(
    ("one", "other", "regular", "deductible"),
    [
        (HOME, MAIN, (MAIN,), False),  # home and regular or main job: never
        (HOME, SECOND, (MAIN, SECOND), False),  # home and second job: never
        (HOME, VISITED, (MAIN,), True),  # home and temporary location: with a regular job elsewhere
        (MAIN, VISITED, (MAIN,), True),  # regular job and temporary location: always
        (MAIN, SECOND, (MAIN, SECOND), True),  # regular and second job: always
        (VISITED, SECOND, (MAIN, SECOND), True),  # temporary location and second job: always
    ],
)
def test_figure_b(one: int | None, other: int | None, regular: tuple[int, ...], deductible: bool) -> None:
    """All six lines of the figure, each both ways."""
    for ends in ((one, other), (other, one)):
        line = claimed(*ends, regular=regular)
        assert line.miles == (MILES if deductible else 0)
        assert ("commuting (IRS Publication 463)" in line.rule) is not deductible


def test_no_regular_place_of_work() -> None:
    """Without one, only ways to places outside the metropolitan area where one lives and works count.

    Where that area ends is nothing that the program knows: the line says what the publication counts.
    """
    line = claimed(HOME, VISITED, regular=())
    assert line.miles == MILES
    assert "no regular one named: Publication 463 counts it only beyond one's own area" in line.rule
    assert "no regular one" not in claimed(HOME, VISITED).rule
    assert "no regular one" not in claimed(SECOND, VISITED, regular=()).rule


def test_a_line_without_a_regular_place_fits_into_a_voucher() -> None:
    """With there and back, and taken back by a supplement: a voucher's line holds 200 characters."""
    rules = MileageBook((MileageTerms(DAY, HomeLegs.OTHER_PLACES),)).on(DAY)
    leg = DrivenLeg(DAY, "A", "B", MILES, Decimal("12.0"), LegEnd.HOME, round_trip=True)
    assert len(f"takes back what was claimed: {claim_line(leg, rules).rule}") <= 200


def test_no_more_than_the_direct_way() -> None:
    """Two places of work: whoever strays for a personal reason counts no more than the direct way.

    Two of a district's three choices hold that, and the third says that it doesn't.
    """
    detour = DrivenLeg(DAY, "A", "B", MILES, Decimal("19.0"))
    for choice, miles in ((Distance.DIRECT, "12.4"), (Distance.SHORTER, "12.4"), (Distance.DRIVEN, "19.0")):
        rules = MileageBook((MileageTerms(DAY, HomeLegs.OTHER_PLACES, choice),)).on(DAY)
        assert claim_line(detour, rules).miles == Decimal(miles)
        assert ("no more than the direct way" in rules_in_words(rules)) is (choice is Distance.DRIVEN)


def test_parking_fees_and_tolls() -> None:
    """Parking at the place of work is commuting, at a place that one visits business; tolls go with their way."""
    for ends in ((HOME, MAIN), (MAIN, HOME)):
        assert claimed(*ends, parking="4.50").parking_and_tolls == 0
    for visit in ((MAIN, VISITED), (HOME, VISITED)):
        assert claimed(*visit, parking="4.50").parking_and_tolls == Decimal("4.50")


def test_the_rate_is_that_of_the_day_driven() -> None:
    """Standard mileage rate: 70 cents in 2025, 72.5 in 2026 (Notice 2026-10)."""
    new_year = [claimed(MAIN, SECOND, day=day).rate.dollars for day in (dt.date(2025, 12, 31), dt.date(2026, 1, 1))]
    assert new_year == [Decimal("0.70"), Decimal("0.725")]


@pytest.mark.parametrize(
    ("home", "distance", "own"),
    [
        (HomeLegs.OTHER_PLACES, Distance.SHORTER, 0),
        (HomeLegs.OTHER_PLACES, Distance.DIRECT, 0),
        (HomeLegs.OTHER_PLACES, Distance.DRIVEN, 1),
        (HomeLegs.NEVER, Distance.SHORTER, 1),
        (HomeLegs.ABOVE_COMMUTE, Distance.SHORTER, 1),
        (HomeLegs.ABOVE_COMMUTE, Distance.DRIVEN, 2),
    ],
)
def test_each_choice_that_differs_says_so(home: HomeLegs, distance: Distance, own: int) -> None:
    """As often as it differs, in the sentence that stands on the voucher."""
    rules = MileageBook((MileageTerms(DAY, home, distance),)).on(DAY)
    assert rules_in_words(rules).count("the district's own rule") == own
