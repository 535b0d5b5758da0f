"""A district's own table against one of ours: where its headers are, which column is which, what is no row.

Nothing here decides: each proposal is shown, and a person says which column is which. Pure.
"""

import difflib
import functools
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from caseload.plans.grades import read_grades
from schedule.imports.files.grids import Grid
from schedule.imports.files.values import CellError, parse_cell
from schedule.imports.own.names import WHOLE_NAME, filled, offered, parts_of
from schedule.imports.own.synonyms import CODES, NAMES, SHORT, SUBJECT
from schedule.imports.tables.columns import Column, ColumnKind, Table

LOOK_FOR_HEADERS_IN = 10
"""Rows at the top of a table among which its headers are looked for."""
SAMPLES = 3
LOOKED_AT = 40
"""Values of a column that are tried."""
LEAST = 0.45
"""What a column must reach to be proposed, of 1."""
SAME_NAME, AS_LAST_TIME, LEFT_OUT_LAST_TIME = "the same name", "as last time", "left out last time"
ALONE = 0.9
"""The share of values that must be known codes where the header says nothing."""
_TOTAL = re.compile(r"(grand |sub ?|page )?(totals?|sums?|count|averages?)\b", re.IGNORECASE)
_TELLING = {
    ColumnKind.CLOCK,
    ColumnKind.DATE,
    ColumnKind.YES_NO,
    ColumnKind.CHOICE,
    ColumnKind.DAYS,
    ColumnKind.DECIMAL,
    ColumnKind.INTEGER,
}

type Known = Mapping[str, Collection[str]]
"""Values that the district has, in small letters, by the name of a column of ours."""


@dataclass(frozen=True, slots=True)
class OwnColumn:
    """A column of the file: its place (from 0), its header, some values, and the name of ours that it seems to be.

    ``column`` is empty where nothing fits; ``why`` is a short reason in words.
    """

    place: int
    header: str
    samples: tuple[str, ...]
    column: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that seems to be none: its number, what stands in it, and why it isn't taken."""

    row: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class OwnTable:
    """A file's table as it was understood. ``header`` is the number of the row with its headers."""

    header: int
    columns: tuple[OwnColumn, ...]
    left_out: tuple[LeftOut, ...]


def plain(text: str) -> str:
    """A header without what makes no difference: capitals, signs, short forms, an order of spaces."""
    words = re.sub(r"[^\w%]+", " ", text.replace("_", " ").casefold()).split()
    return " ".join(SHORT.get(word, word) for word in words)


def fits(table: Table, grid: Grid) -> bool:
    """Whether a grid has our headers in its first row, all that are needed and no other, and no doubtful row."""
    headers = [plain(header) for header in grid.rows[0][1]]
    ours = {plain(column.header) for column in table.columns}
    needed = {plain(column.header) for column in table.columns if column.required}
    named = {header for header in headers if header}
    return needed <= named <= ours and not grid.hidden and not _nameless(headers, grid)


def _nameless(headers: Sequence[str], grid: Grid) -> bool:
    """Whether something stands in a column without a header."""
    used = {place for _, cells in grid.rows[1:] for place, cell in enumerate(cells) if cell}
    return any(place >= len(headers) or not headers[place] for place in used)


def understood(table: Table, grid: Grid, known: Known, before: Mapping[str, str]) -> OwnTable:
    """What a district's own table seems to be.

    ``before`` has what somebody said of a header (as `plain` writes it) at an earlier time: the name of our column,
    or nothing for one that is left out.
    """
    at = _header_at(table, grid, before)
    number, headers = grid.rows[at]
    left_out = tuple(_left_out(grid, at))
    gone = {one.row for one in left_out}
    below = [cells for row, cells in grid.rows[at + 1 :] if row not in gone]
    width = max(len(cells) for _, cells in grid.rows[at:])
    columns = [
        OwnColumn(place, headers[place] if place < len(headers) else "", _samples(below, place))
        for place in range(width)
    ]
    seen = [one for one in columns if one.header or one.samples]
    proposed = _proposed(table, seen, below, known, before)
    return OwnTable(number, tuple(proposed), left_out)


def taken(table: Table, grid: Grid, header: int, columns: Mapping[int, str], left_out: Collection[int]) -> Grid:
    """The grid as if it were a template of ours: our headers on top, other columns gone, rows left out gone.

    Row numbers stay those of the spreadsheet. ``columns`` has the name of our column by place.
    """
    places = sorted(columns)
    heads = tuple(table.column(name).header for name in filled([columns[place] for place in places]))
    below = [(number, _only(cells, columns)) for number, cells in grid.rows if number > header]
    rows = [(header, heads), *((number, kept) for number, kept in below if any(kept) and number not in left_out)]
    moved = _moves(columns)
    return replace(
        grid,
        rows=tuple(rows),
        formulas=_moved(grid.formulas, moved),
        broken=_moved(grid.broken, moved),
        merged=tuple((first, area) for first, area in grid.merged if first > header),
        hidden=(),
    )


def _only(cells: Sequence[str], columns: Mapping[int, str]) -> tuple[str, ...]:
    """The cells of one row that are ours, a whole name in its parts."""
    return tuple(
        part
        for place in sorted(columns)
        for part in parts_of(columns[place], cells[place] if place < len(cells) else "")
    )


def _moves(columns: Mapping[int, str]) -> dict[int, int]:
    """Where each column that is ours is then; one of two parts is where the first of them is."""
    widths = {place: len(filled([name])) for place, name in columns.items()}
    return {place: sum(width for other, width in widths.items() if other < place) for place in columns}


def _moved(cells: Iterable[tuple[int, int]], moved: Mapping[int, int]) -> frozenset[tuple[int, int]]:
    return frozenset((row, moved[place]) for row, place in cells if place in moved)


def _header_at(table: Table, grid: Grid, before: Mapping[str, str]) -> int:
    """Where among the rows the headers are: the row of which most cells are called like columns of ours."""
    found = [
        sum(_called(table, cell, before) for cell in set(cells) if cell)
        for _, cells in grid.rows[:LOOK_FOR_HEADERS_IN]
    ]
    return found.index(max(found))


def _called(table: Table, header: str, before: Mapping[str, str]) -> float:
    if plain(header) in before:
        return 1.0
    best = max(_by_name(table, column, header) for column in offered(table))
    return best if best >= 0.8 else 0.0


def _samples(below: Sequence[tuple[str, ...]], place: int) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_values(below, place)))[:SAMPLES]


def _values(below: Sequence[tuple[str, ...]], place: int) -> list[str]:
    """Filled cells of a column, from all over it."""
    found = [cells[place] for cells in below if place < len(cells) and cells[place]]
    return found[:: max(1, len(found) // LOOKED_AT)][:LOOKED_AT]


def _by_name(table: Table, column: Column, header: str) -> float:
    """How much a header is called like a column of ours, of 1."""
    theirs = plain(header)
    if not theirs:
        return 0.0
    if theirs in {plain(column.header), plain(column.name)}:
        return 1.0
    others = CODES.get(table.kind, ()) if column.name == "code" else NAMES.get(column.name, ())
    if theirs in others:
        return 0.95 - 0.01 * others.index(theirs)
    bare = " ".join(word for word in theirs.split() if word not in SUBJECT.get(table.kind, ()))
    if bare in others or bare == plain(column.header):
        return 0.85
    near = difflib.SequenceMatcher(None, theirs, plain(column.header)).ratio()
    return 0.9 * near if near >= 0.75 else 0.0


def _content(column: Column, values: Sequence[str], known: Known) -> float | None:
    """The share of values that such a column could hold; nothing where any text could stand there."""
    if not values:
        return None
    if column.name in known:
        holds: Callable[[str], bool] = functools.partial(_is_known, known[column.name])
    elif column.name in _HOLDS:
        holds = _HOLDS[column.name]
    elif column.kind in _TELLING:
        holds = functools.partial(_reads, column)
    else:
        return None
    return sum(map(holds, values)) / len(values)


def _is_known(names: Collection[str], text: str) -> bool:
    return text.casefold() in names


def _is_grade(text: str) -> bool:
    try:
        return len(read_grades(text)) == 1
    except ValueError:
        return False


def _reads(column: Column, text: str) -> bool:
    try:
        parse_cell(column, text)
    except CellError as error:
        # What can be read in two ways is asked about later: “1:05” is a time all the same.
        return bool(error.readings)
    return True


_HOLDS: Mapping[str, Callable[[str], bool]] = {
    WHOLE_NAME.name: lambda text: all(parts_of(WHOLE_NAME.name, text)),
    "grade": _is_grade,
    # “Service” is how much of it in one district's list, and which one in another's.
    "statement": lambda text: any(map(str.isdigit, text)),
}
"""By the name of a column of ours that holds text, whether a value could stand there."""


def _proposed(
    table: Table,
    columns: Sequence[OwnColumn],
    below: Sequence[tuple[str, ...]],
    known: Known,
    before: Mapping[str, str],
) -> list[OwnColumn]:
    """Each column with what it seems to be, the surest first; no column of ours is given twice."""
    given = _said(columns, before)
    open_ones = [one for one in columns if one.place not in given]
    offers = [offer for one in open_ones for offer in _offers(table, one, _values(below, one.place), known)]
    used = set(filled(dict(given.values())))
    for _, place, name, why in sorted(offers, reverse=True):
        if -place not in given and used.isdisjoint(filled([name])):
            given[-place] = (name, why)
            used.update(filled([name]))
    return [replace(one, column=name, why=why) for one in columns for name, why in [given.get(one.place, ("", ""))]]


def _offers(
    table: Table, one: OwnColumn, values: Sequence[str], known: Known
) -> Iterable[tuple[float, int, str, str]]:
    """The columns of ours that one may be: how well each fits, its place (negative: the first wins), and why."""
    for ours in offered(table):
        score, why = _score(table, ours, one.header, _content(ours, values, known), known)
        if score >= LEAST:
            yield score, -one.place, ours.name, why


def _said(columns: Iterable[OwnColumn], before: Mapping[str, str]) -> dict[int, tuple[str, str]]:
    """By place what was said of its header last time; of two headers that were the same the first."""
    given: dict[int, tuple[str, str]] = {}
    used: set[str] = set()
    for one in columns:
        name = before.get(plain(one.header)) if one.header else None
        if name is not None and used.isdisjoint(filled([name])):
            given[one.place] = (name, AS_LAST_TIME if name else LEFT_OUT_LAST_TIME)
            used |= {*filled([name])} - {""}
    return given


def _score(table: Table, ours: Column, header: str, content: float | None, known: Known) -> tuple[float, str]:
    """How well a column fits, of 1, and the reason."""
    named = _by_name(table, ours, header)
    if named == 1.0 and (content != 0.0 or ours.name in known):
        return 1.0, SAME_NAME
    if content is None:
        return 0.8 * named, "by its name"
    if not named:
        sure = content >= ALONE and ours.kind is ColumnKind.PLACE
        return (0.5 if sure else 0.0), "by what is in it"
    # A name may mislead where the values say otherwise: “From” is a day in one table and a time in another. That
    # codes are unknown says less: they may not be there yet.
    least = 0.6 if ours.name in known else 0.3
    return named * (least + (1 - least) * content), "by its name and what is in it"


def _left_out(grid: Grid, at: int) -> Iterable[LeftOut]:
    """Rows that seem to be none: above the headers, the headers once more, totals, headings inside the table."""
    headers = grid.rows[at][1]
    wide = sum(bool(header) for header in headers)
    for number, cells in grid.rows[:at]:
        yield LeftOut(number, _text(cells), "above the headers")
    for number, cells in grid.rows[at + 1 :]:
        why = _no_row(cells, headers, wide)
        if why:
            yield LeftOut(number, _text(cells), why)
        elif number in grid.hidden:
            yield LeftOut(number, _text(cells), "hidden in the spreadsheet")


def _no_row(cells: tuple[str, ...], headers: tuple[str, ...], wide: int) -> str:
    """Why a row is none, or nothing."""
    filled = [cell for cell in cells if cell]
    if cells == headers:
        return "the headers again"
    if _TOTAL.match(filled[0]) and 2 * len(filled) <= wide + 1:
        return "a total"
    return "a heading" if wide >= 4 and len(filled) == 1 else ""


def _text(cells: Sequence[str]) -> str:
    return " ".join(cell for cell in cells if cell)[:120]
