"""The teacher's days: buildings, lunch, fixed blocks, and the contract day that holds them.

Times of day are minutes after local midnight, lengths are minutes. ``problem`` hands these on with everything
else that a problem is made of.
"""

from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.requirements import require, require_minutes


@dataclass(frozen=True, slots=True)
class Place:
    """A building or base. ``arrive_minutes`` to park and sign in, ``leave_minutes`` to pack up."""

    id: str
    name: str = ""
    arrive_minutes: int = 0
    leave_minutes: int = 0

    def __post_init__(self) -> None:
        require_minutes(self.arrive_minutes, "arrive_minutes")
        require_minutes(self.leave_minutes, "leave_minutes")


@dataclass(frozen=True, slots=True)
class Lunch:
    """A duty-free lunch of ``minutes``, begun no sooner than ``earliest``, over by ``latest_end``.

    ``place``: where it is had; ``None``: wherever the teacher then is. Nobody drives to a place for lunch alone.
    """

    minutes: int
    earliest: int
    latest_end: int
    place: str | None = None

    def __post_init__(self) -> None:
        require_minutes(self.minutes, "minutes", 1)
        require_minutes(self.earliest, "earliest")
        require_minutes(self.latest_end, "latest_end")
        require(
            self.earliest + self.minutes <= self.latest_end,
            "latest_end",
            f"A lunch of {self.minutes} minutes doesn't fit between {self.earliest} and {self.latest_end}.",
            "Widen the window or shorten the lunch.",
        )


@dataclass(frozen=True, slots=True)
class Block:
    """A fixed visit: a meeting or a duty. Without a place it is held wherever the teacher then is."""

    start: int
    end: int
    place: str | None = None
    label: str = ""

    def __post_init__(self) -> None:
        require_minutes(self.start, "start")
        require_minutes(self.end, "end")
        require(self.start < self.end, "end", "The block ends before it starts.", "Swap start and end.")


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the horizon: the contract day, where it begins and ends, lunch, fixed blocks.

    ``start_place`` or ``end_place`` of ``None`` means that the day begins or ends wherever its first or
    last visit is. ``preparation_minutes`` is a wish for this day.
    """

    id: str
    start: int
    end: int
    label: str = ""
    start_place: str | None = None
    end_place: str | None = None
    lunch: Lunch | None = None
    blocks: tuple[Block, ...] = ()
    preparation_minutes: int = 0

    def __post_init__(self) -> None:
        require_minutes(self.start, "start")
        require_minutes(self.end, "end")
        require_minutes(self.preparation_minutes, "preparation_minutes")
        require(self.start < self.end, "end", "The contract day ends before it starts.", "Swap start and end.")
        self._check_lunch()
        self._check_blocks()

    def _check_lunch(self) -> None:
        if self.lunch is None:
            return
        earliest = max(self.lunch.earliest, self.start)
        latest = min(self.lunch.latest_end, self.end)
        require(
            earliest + self.lunch.minutes <= latest,
            "lunch",
            "Lunch doesn't fit inside the contract day.",
            "Move the lunch window or widen the contract day.",
        )

    def _check_blocks(self) -> None:
        ordered = sorted(self.blocks, key=lambda block: block.start)
        for block in ordered:
            require(
                self.start <= block.start and block.end <= self.end,
                "blocks",
                f"The block {block.label!r} lies outside the contract day.",
                "Move the block or widen the contract day.",
            )
        for before, after in pairwise(ordered):
            require(
                before.end <= after.start,
                "blocks",
                f"The blocks {before.label!r} and {after.label!r} overlap.",
                "Move or remove one of them.",
            )
