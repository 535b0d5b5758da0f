"""Findings of a published calendar, events of one title together, so that a person decides once for each.

No database, no clock.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Self

from schedule.calendar.published.words import CalendarFinding

# Each is a choice on one page, and a page has so many fields at most.
MOST_GROUPS = 600
LONGEST_BREAK = dt.timedelta(days=99)
ORDINARY = "ordinary"
UNDECIDED = "undecided"
DAY_KINDS = ("closed", "no_students", "early_dismissal", "delayed_opening")
FIRST_DAY, LAST_DAY = "first_day", "last_day"


@dataclass(frozen=True, slots=True)
class EventGroup:
    """Events of one title. `kind` is what they will be saved as (ordinary: not at all; undecided: not yet).

    `matched`: the words that recognized them; empty if none did. `dates`: first and last date of each event.
    `doubt`: why a person is asked whether the words mean it; empty if nobody need be. `asks_end`: the last day of
    the break is asked as well.
    """

    title: str
    kind: str
    matched: str
    dates: tuple[tuple[dt.date, dt.date], ...]
    doubt: str = ""
    asks_end: bool = False

    def as_json(self) -> dict[str, Any]:
        """For storing with the batch."""
        dates = [[first.isoformat(), last.isoformat()] for first, last in self.dates]
        kept = {"title": self.title, "kind": self.kind, "matched": self.matched, "dates": dates}
        return {**kept, "doubt": self.doubt, "asks_end": self.asks_end}

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Back from as_json."""
        dates = tuple((dt.date.fromisoformat(one), dt.date.fromisoformat(two)) for one, two in stored["dates"])
        doubt, asks_end = stored.get("doubt", ""), stored.get("asks_end", False)
        return cls(stored["title"], stored["kind"], stored["matched"], dates, doubt, asks_end)


def group_findings(findings: Iterable[CalendarFinding]) -> tuple[EventGroup, ...]:
    """Findings by title, in order of their first date; those in doubt first, undecided, then recognized ones."""
    groups: dict[tuple[str, str, str, str, bool], list[tuple[dt.date, dt.date]]] = {}
    for finding in findings:
        kind = finding.kind.value if finding.kind is not None else ORDINARY
        said = UNDECIDED if finding.doubt else kind
        key = (finding.title, said, finding.matched, finding.doubt, finding.asks_end)
        groups.setdefault(key, []).append((finding.first, finding.last))
    made = [
        EventGroup(title, kind, matched, tuple(sorted(dates)), doubt, asks_end)
        for (title, kind, matched, doubt, asks_end), dates in groups.items()
    ]
    return tuple(sorted(made, key=lambda group: (not group.doubt, not group.matched, group.dates[0], group.title)))


def undecided_dates(groups: Iterable[EventGroup]) -> frozenset[tuple[str, str, str]]:
    """First date, last date (ISO 8601) and title of each event that stays undecided."""
    return frozenset(
        (first.isoformat(), last.isoformat(), group.title)
        for group in groups
        if group.kind == UNDECIDED
        for first, last in group.dates
    )


def choose_kinds(
    groups: Sequence[EventGroup], kinds: Sequence[str], ends: Mapping[int, dt.date] | None = None
) -> tuple[EventGroup, ...]:
    """The groups with the kinds that a person chose, one for each, and the last days of breaks by place.

    Raises `ValueError` for a last day that nobody asked for, or that lies before the first or long after it.
    """
    chosen = [replace(group, kind=kind) for group, kind in zip(groups, kinds, strict=True)]
    for place, end in (ends or {}).items():
        first = chosen[place].dates[0][0] if 0 <= place < len(chosen) and chosen[place].asks_end else dt.date.max
        if not first <= end <= first + LONGEST_BREAK:
            raise ValueError(f"{end} is no last day")
        chosen[place] = replace(chosen[place], dates=((first, end), *chosen[place].dates[1:]))
    return tuple(chosen)


def ends_of_year(groups: Iterable[EventGroup]) -> tuple[dt.date | None, dt.date | None]:
    """The earliest first day and the latest last day that the groups name."""
    groups = tuple(groups)
    firsts = [first for group in groups if group.kind == FIRST_DAY for first, _ in group.dates]
    lasts = [last for group in groups if group.kind == LAST_DAY for _, last in group.dates]
    return min(firsts, default=None), max(lasts, default=None)
