"""How versions of a week are called: by number, by the name that somebody gave, or by when they were made. Pure."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

ORDINALS = ("", "", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")


@dataclass(frozen=True, slots=True)
class VersionRow:
    """A version; ``made`` is local to the district."""

    id: int
    number: int | None
    name: str
    made: dt.datetime


def version_titles(rows: Iterable[VersionRow]) -> dict[int, str]:
    """By id, for all versions of one week: ``Version 3``, ``With the pool``, ``Draft of Nov 28, 2:10 PM``.

    Where several would be called the same, those made later say which they are: ``(second)``.
    """
    found: dict[int, str] = {}
    met: Counter[str] = Counter()
    for row in sorted(rows, key=lambda one: (one.made, one.id)):
        title = _title(row)
        met[title.casefold()] += 1
        count = met[title.casefold()]
        which = ORDINALS[count] if count < len(ORDINALS) else f"no. {count}"
        found[row.id] = title if count == 1 else f"{title} ({which})"
    return found


def _title(row: VersionRow) -> str:
    if row.number:
        return f"Version {row.number}"
    return row.name or f"Draft of {row.made:%b} {row.made.day}, {row.made:%I:%M %p}".replace(", 0", ", ")
