"""What may be mutated with which tests, and the reasons why a mutant may survive: the files in `areas/`."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.mutation.mutants import Mutant

AREAS = Path(__file__).parent / "areas"


class AreaError(ValueError):
    """A table that can't be used, or nothing by the name that was asked for."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why some changes of a line may survive. The line is named by its text, so it may move."""

    module: str
    function: str
    line: str
    changes: tuple[str, ...]
    why: str

    def covers(self, mutant: Mutant, text: str) -> bool:
        """Whether it speaks of a mutant whose first line reads `text`."""
        return (self.function, self.line) == (mutant.function, text.strip()) and mutant.change in self.changes


@dataclass(frozen=True, slots=True)
class Area:
    """Modules of one part of the job, each with the files of its tests, and the reasons for its survivors."""

    name: str
    tests: Mapping[str, Sequence[str]]
    reasons: tuple[Reason, ...]


def read_areas(folder: Path) -> tuple[Area, ...]:
    """All areas of a folder, one a file."""
    return tuple(_read(path) for path in sorted(folder.glob("*.toml")))


def _read(path: Path) -> Area:
    plain: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    tests = plain.pop("tests", {})
    reasons = [_reason(path, row) for row in plain.pop("reason", [])]
    if plain or not tests:
        raise AreaError(f"{path.name} holds a table [tests] and reasons [[reason]], and nothing else.")
    for one in reasons:
        if one.module not in tests:
            raise AreaError(f"{path.name} gives a reason for {one.module}, which isn't in its [tests].")
    return Area(path.stem, tests, tuple(reasons))


def _reason(path: Path, row: dict[str, Any]) -> Reason:
    if set(row) != {"module", "function", "line", "changes", "why"} or not row["why"].strip():
        raise AreaError(f"A reason in {path.name} needs module, function, line, changes and why.")
    return Reason(row["module"], row["function"], row["line"], tuple(row["changes"]), row["why"])


def asked_for(areas: Sequence[Area], name: str) -> list[tuple[str, Area]]:
    """The modules that a name asks for: one, or all of an area."""
    found = [(module, area) for area in areas for module in area.tests if name in (module, area.name)]
    if not found:
        known = "\n".join(f"  {area.name}: {', '.join(area.tests)}" for area in areas)
        raise AreaError(f"There is no module or area {name!r}. There are:\n{known}")
    return found
