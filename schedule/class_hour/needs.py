"""Lists of equipment as teachers write them: “12 poly spots, 1 parachute”.

Pure.
"""

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches

MOST = 999
_ENTRY = re.compile(r"^(?:(\d+)\s*x?\s+)?(.+?)$", re.IGNORECASE)


class NeedsError(ValueError):
    """A list that can't be read, with how to put it right."""


def needs_read(text: str, known: Mapping[str, int]) -> dict[int, int]:
    """How many of each, by id; a name without a number means one. Separated by commas, semicolons or lines.

    `known`: ids by name; names are compared without regard to case and spaces. Raises `NeedsError` naming the first
    entry that can't be read and the name that it may mean.
    """
    ids = {_plain(name): pk for name, pk in known.items()}
    found: dict[int, int] = {}
    for entry in filter(None, (one.strip() for one in re.split(r"[,;\n]", text))):
        count, name = _entry(entry, ids)
        pk = ids.get(_plain(name))
        if pk is None:
            raise NeedsError(_unknown(name, known))
        if pk in found:
            message = f"“{name}” stands here twice. Write it once, with how many it takes."
            raise NeedsError(message)
        if not 0 < count <= MOST:
            message = f"“{entry}”: write how many it takes, from 1 to {MOST}."
            raise NeedsError(message)
        found[pk] = count
    return found


def needs_write(needs: Iterable[tuple[str, int]]) -> str:
    """The same as text."""
    return ", ".join(f"{count} {name}" for name, count in needs)


def _entry(entry: str, ids: Mapping[str, int]) -> tuple[int, str]:
    """How many, and of what; a name may begin with a number."""
    match = _ENTRY.match(entry)
    if match is None or _plain(entry) in ids:
        return 1, entry
    return int(match[1]) if match[1] else 1, match[2]


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _unknown(name: str, known: Iterable[str]) -> str:
    names = {_plain(one): one for one in known}
    near = get_close_matches(_plain(name), names, n=1)
    hint = f"Did you mean “{names[near[0]]}”?" if near else "Add it under Equipment first, or leave it out here."
    return f"There is no equipment “{name}”. {hint}"
