"""What a change of rules, rates or homes would change of the trips that are driven, in sentences. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

type Trips = Mapping[int, "TripClaim"]


@dataclass(frozen=True, slots=True)
class TripClaim:
    """What a confirmed trip claims, in dollars; None where it can't be worked out.

    `submitted`: it stands on a voucher, and stays there as it is.
    """

    teacher_id: int
    month: date
    submitted: bool
    dollars: Decimal | None


def changes_in_words(before: Trips, after: Trips) -> list[str]:
    """A sentence for each month whose open trips claim otherwise, and one for those that are submitted."""
    changed = {key for key, one in after.items() if before[key].dollars != one.dollars}
    open_ones = {key for key in changed if not after[key].submitted}
    told = [
        _month(month, [(before[key], after[key]) for key in open_ones if after[key].month == month])
        for month in sorted({after[key].month for key in open_ones})
    ]
    if len(changed) > len(open_ones):
        told.append(
            f"{_trips(len(changed) - len(open_ones))} of submitted months would be paid differently. "
            "What was submitted stays as it is; a supplement can price the month again."
        )
    return told


def _month(month: date, pairs: list[tuple[TripClaim, TripClaim]]) -> str:
    teachers = len({after.teacher_id for _, after in pairs})
    whose = f" of {teachers} teachers" if teachers > 1 else ""
    sums = f"${_sum(one for one, _ in pairs)} now, ${_sum(one for _, one in pairs)} then"
    lost = sum(after.dollars is None for _, after in pairs)
    missing = f" {lost} of them can't be worked out then: a rate or the commute isn't known." if lost else ""
    return f"{month:%B %Y}, {_trips(len(pairs))}{whose}: {sums}.{missing}"


def _sum(claims: Iterable[TripClaim]) -> Decimal:
    return sum((one.dollars for one in claims if one.dollars is not None), Decimal("0.00"))


def _trips(number: int) -> str:
    return "1 trip" if number == 1 else f"{number} trips"
