"""What every part of a problem must hold to, and the error that names place and remedy where one doesn't."""

from collections.abc import Iterable

from schedule.planner.times import MINUTES_PER_DAY


class ProblemError(ValueError):
    """The problem contradicts itself or is incomplete; ``field`` says where, ``remedy`` what to do."""

    def __init__(self, field: str, message: str, remedy: str) -> None:
        super().__init__(f"{field}: {message} {remedy}")
        self.field = field
        self.message = message
        self.remedy = remedy


def require(condition: bool, field_name: str, message: str, remedy: str) -> None:
    """Raise ``ProblemError`` unless the condition holds."""
    if not condition:
        raise ProblemError(field_name, message, remedy)


def require_minutes(value: int, field_name: str, lowest: int = 0) -> None:
    """Raise ``ProblemError`` unless the value lies between ``lowest`` and a day's minutes."""
    require(
        lowest <= value <= MINUTES_PER_DAY,
        field_name,
        f"{value} is not between {lowest} and {MINUTES_PER_DAY} minutes.",
        "Give whole minutes (times of day as minutes after midnight).",
    )


def require_unique(ids: Iterable[str], field_name: str) -> None:
    """Raise ``ProblemError`` if an id is empty or used twice."""
    seen: set[str] = set()
    for one in ids:
        require(bool(one), field_name, "An id is empty.", "Give every entry an id.")
        require(one not in seen, field_name, f"The id {one!r} is used twice.", "Use each id once.")
        seen.add(one)
