"""Dollars a mile: the published rates, a district's own, and what holds from a day on.

Pure. Money is `Decimal`, never floating point: the published rates hold half-cents.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Protocol

from accounts.dates import date_words


class MileageError(ValueError):
    """A claim that can't be worked out; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Dollars a mile from a date on, until the next rate begins, or until `last_day` where that is known."""

    first_day: date
    dollars: Decimal
    source: str = ""
    last_day: date | None = None

    @property
    def dollars_written(self) -> Decimal:
        """As a page writes it."""
        return rate_written(self.dollars)


_CENTS = Decimal("0.01")


def rate_written(dollars: Decimal) -> Decimal:
    """A rate as every page, file and answer writes it: whole cents, and the parts of a cent that there are.

    The database keeps four places whatever was typed: 0.7250 is 0.725, and 0.7000 is 0.70.
    """
    cents = dollars.quantize(_CENTS)
    return cents if cents == dollars else dollars.normalize()


_NOTICE = "IRS standard mileage rate, business"


def _rate(year: int, month: int, dollars: str, source: str = _NOTICE, last_day: date | None = None) -> Rate:
    # Each notice is about one calendar year: what the next one says isn't known before it is published.
    return Rate(date(year, month, 1), Decimal(dollars), source, last_day or date(year, 12, 31))


STANDARD_RATES: tuple[Rate, ...] = (
    _rate(2015, 1, "0.575"),
    _rate(2016, 1, "0.54"),
    _rate(2017, 1, "0.535"),
    _rate(2018, 1, "0.545"),
    _rate(2019, 1, "0.58"),
    _rate(2020, 1, "0.575"),
    _rate(2021, 1, "0.56"),
    _rate(2022, 1, "0.585", last_day=date(2022, 6, 30)),
    _rate(2022, 7, "0.625", "IRS Announcement 2022-13"),
    _rate(2023, 1, "0.655"),
    _rate(2024, 1, "0.67", "IRS Notice 2024-08"),
    _rate(2025, 1, "0.70"),
    _rate(2026, 1, "0.725", "IRS Notice 2026-10"),
)

"""United States standard business rates; a district may pay others."""


def rate_on(day: date, rates: Sequence[Rate]) -> Rate:
    """The rate in force on the day driven.

    Raises `MileageError` where no rate has begun, or the last one has ended: last year's isn't paid in its place.
    """
    rate = latest_begun(rates, day)
    if rate is None or (rate.last_day is not None and rate.last_day < day):
        raise MileageError(
            f"No mileage rate is known for {date_words(day)}. Add the rate that your district pays for that day."
        )
    return rate


class Begins(Protocol):
    """What holds from a day on."""

    @property
    def first_day(self) -> date:
        """The first day on which it holds."""


def latest_begun[B: Begins](rows: Iterable[B], day: date) -> B | None:
    """What holds on a day: the latest that has begun by then."""
    return max((row for row in rows if row.first_day <= day), key=lambda row: row.first_day, default=None)
