"""What is wrong with an upload, said by row, column, value and remedy."""

from dataclasses import asdict, dataclass, field
from typing import Any, Self


class UnreadableFileError(ValueError):
    """A file that can't be read at all; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class RowProblem:
    """One fault. `row` is the row's number as the spreadsheet shows it (the headers are row 1), 0 for the table.

    A warning doesn't stop the import. `readings` are those that the value may be read as, to choose from.
    """

    table: str
    row: int
    column: str
    value: str
    message: str
    remedy: str
    warning: bool = False
    readings: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """For storing with the batch."""
        return asdict(self)

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Back from as_json."""
        return cls(**stored)


def count_errors(problems: list[RowProblem]) -> int:
    """How many problems stop the import."""
    return sum(not problem.warning for problem in problems)
