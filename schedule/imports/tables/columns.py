"""What a column and a table are, and the columns that several tables share."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class ColumnKind(StrEnum):
    """What a cell of a column holds."""

    TEXT = "text"
    CODE = "code"
    PLACE = "building"
    PERSON = "sign-in name"
    CLOCK = "clock"
    DATE = "date"
    INTEGER = "integer"
    DECIMAL = "decimal"
    YES_NO = "yes or no"
    CHOICE = "choice"
    GRADES = "grades"
    DAYS = "days"
    NAMES = "list of names"


class RowRole(StrEnum):
    """What the rows of a table stand for, and so what an import does to what is saved already.

    record: a row adds the record with its key, or changes it. set: the rows with one key together are all
    that there is under this key; what is saved under it and isn't in the file goes. Keys that the file doesn't
    name are never touched.
    """

    RECORD = "record"
    SET = "set"


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `choices` are the words that a cell may hold, each with the value that is saved for it."""

    header: str
    name: str
    kind: ColumnKind
    help: str
    example: str
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """The words that a cell may hold; empty unless the column is a choice."""
        return tuple(word for word, _ in self.choices)


@dataclass(frozen=True, slots=True)
class Table:
    """One table. `key` names the columns that identify a record (or a set of rows).

    `permission` is what its rows take beside importing at all (accounts.permissions).
    """

    kind: str
    title: str
    about: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    role: RowRole = RowRole.RECORD
    permission: str = "import.run"

    def column(self, name: str) -> Column:
        """The column of a name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @property
    def headers(self) -> tuple[str, ...]:
        """All headers in order."""
        return tuple(column.header for column in self.columns)

    @property
    def key_headers(self) -> tuple[str, ...]:
        """Headers of the columns that identify a record or a set."""
        return tuple(self.column(name).header for name in self.key)


def choice_words(choices: Iterable[tuple[object, object]]) -> tuple[tuple[str, str], ...]:
    """A model's choices as words with spaces: `early dismissal` for `early_dismissal`."""
    return tuple((str(value).replace("_", " "), str(value)) for value, _ in choices)


TEXT, CODE, CLOCK, DATE = ColumnKind.TEXT, ColumnKind.CODE, ColumnKind.CLOCK, ColumnKind.DATE
INTEGER, DECIMAL, YES_NO, CHOICE = ColumnKind.INTEGER, ColumnKind.DECIMAL, ColumnKind.YES_NO, ColumnKind.CHOICE
GRADES, DAYS, NAMES = ColumnKind.GRADES, ColumnKind.DAYS, ColumnKind.NAMES
PERSON, PLACE = ColumnKind.PERSON, ColumnKind.PLACE

CLOCK_HELP = "Local time such as 08:05, 13:05 or 1:05 PM."
DATE_HELP = "A date such as 2026-09-08 or 9/8/2026."

BUILDING = Column(
    "Building code", "building", PLACE, "Code or full name of a building in the table of buildings.", "NORTH",
    required=True,
)  # fmt: skip
STUDENT = Column(
    "Student code", "student", CODE, "Code of a student in the table of students.", "S01", required=True
)
TEACHER = Column("Teacher", "teacher", PERSON, "Sign-in name; empty: you, or the district's only teacher.", "")
SPACE = Column("Space name", "space", TEXT, "Name of a space of this building.", "Gym", required=True)
SLOT_DAYS = Column(
    "Days", "days", DAYS, "Days such as Mon,Wed, Day 3, A, A Mon or first Wed; empty for every day.", "Mon,Wed"
)
SLOT_PERIOD = Column(
    "Period", "period", TEXT, "Name of a period of the building's bells; or fill Start and End.", "Period 3"
)
SLOT_START = Column("Start", "start", CLOCK, f"{CLOCK_HELP} Only where Period is empty.", "")
SLOT_END = Column("End", "end", CLOCK, f"{CLOCK_HELP} Only where Period is empty.", "")
