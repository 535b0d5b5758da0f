"""What several rows of the attention page have in common, so that it is said once. Pure."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

SEVERAL = 3
"""So many rows with one cause are said together; fewer stand by themselves. Common practice, no source."""

_AFTER_DASH = re.compile(r"\s+[-\u2013\u2014]\s+.*$")


class Caused(Protocol):
    """A row with a kind and a cause; an empty cause is shared with no other row."""

    @property
    def kind(self) -> int:
        """What sort of row it is."""

    @property
    def cause(self) -> str:
        """In words; the same words are the same cause."""


@dataclass(frozen=True, slots=True)
class Parted[Row: Caused]:
    """Rows parted by cause: those that differ, and those that share one, each in their order."""

    differ: tuple[Row, ...]
    shared: tuple[tuple[Row, ...], ...]


def part_by_cause[Row: Caused](rows: Iterable[Row], several: int = SEVERAL) -> Parted[Row]:
    """Rows of one cause together where they are `several`; the largest such group first, else as they come."""
    every = list(rows)
    found: dict[tuple[int, str], list[Row]] = defaultdict(list)
    for row in every:
        found[row.kind, row.cause].append(row)
    shared = [tuple(group) for (_, cause), group in found.items() if cause and len(group) >= several]
    together = {id(row) for group in shared for row in group}
    return Parted(
        tuple(row for row in every if id(row) not in together),
        tuple(sorted(shared, key=len, reverse=True)),
    )


def closing_name(title: str, kind: str) -> str:
    """What a day without school is called: "Winter Recess" of "Winter Recess - Schools Closed"."""
    return _AFTER_DASH.sub("", title.strip()) or kind.lower()


def sessions_words(counts: Iterable[int | None]) -> str:
    """How many sessions each of some services is short of, in words; None is a part of one."""
    known = {count for count in counts if count is not None}
    if not known:
        return "Part of a session"
    least, most = min(known), max(known)
    if least == most:
        return "One session" if most == 1 else f"{most} sessions"
    return f"{least} to {most} sessions"


def count_words(count: int, one: str, more: str) -> str:
    """A number with its noun."""
    return f"1 {one}" if count == 1 else f"{count} {more}"
