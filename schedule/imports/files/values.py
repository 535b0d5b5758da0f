"""Cells to Python values and back, by the kind of their column. No database here."""

import datetime as dt
import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from caseload.plans.grades import GRADES, read_grades
from schedule.calendar.bells import ClockError, read_clock
from schedule.imports.tables.columns import Column, ColumnKind

_FULL_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_WEEKDAYS = {name[:length].casefold(): name[:3] for name in _FULL_WEEKDAYS for length in range(3, len(name) + 1)}
_YES = ("yes", "y", "true", "1", "x")
_NO = ("no", "n", "false", "0")
_CODE = re.compile(r"[A-Za-z0-9_\-]+")
_ISO_DATE = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[ T]00:00(?::00)?)?")
_US_DATE = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4}|\d{2})")
_NAMED_DATE = re.compile(
    r"(\d{1,2})[- ]([A-Za-z]{3,9})\.?[- ,]+(\d{4}|\d{2})|([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# MWF, TTh, T/Th, M-F: letters as timetables write them, two of them or more: one alone may be a cycle day's name.
_LETTERS = re.compile(r"(?:M|Tu?|W|Th|R|F)(?:[ /]?(?:M|Tu?|W|Th|R|F))+")
_LETTER = re.compile(r"Th|Tu|[MTWRF]")
_LETTER_DAYS = {"M": "Mon", "T": "Tue", "Tu": "Tue", "W": "Wed", "Th": "Thu", "R": "Thu", "F": "Fri"}
_SCHOOL_BEGINS = 6 * 60  # minutes after midnight; earlier without AM or PM may mean the afternoon
_LONGEST_DAY = 24  # characters of a day's name, as the models keep it


class CellError(ValueError):
    """A cell that can't be read: what is wrong, and what to write."""

    def __init__(self, message: str, remedy: str, readings: tuple[str, ...] = ()) -> None:
        """Keep the two apart; `readings` are those that the text may have, to choose from."""
        super().__init__(message)
        self.message = message
        self.remedy = remedy
        self.readings = readings


def parse_cell(column: Column, text: str) -> Any:
    """The value of a cell; None where it is empty. Raises CellError."""
    if not text:
        if column.required:
            raise CellError(f"“{column.header}” is empty.", f"Fill it in: {column.help}")
        return None
    if column.kind is ColumnKind.CHOICE:
        return _choice(column, text)
    return _PARSERS[column.kind](text)


def _choice(column: Column, text: str) -> str:
    """One of a column's words; its first letters do if they are no other's."""
    plain = re.sub(r"[\s_\-]+", " ", text).strip().casefold()
    by_word = {word.casefold(): value for word, value in column.choices}
    if plain in by_word:
        return by_word[plain]
    begun = [value for word, value in by_word.items() if len(plain) > 2 and word.startswith(plain)]
    if len(begun) == 1:
        return begun[0]
    raise CellError(f"“{text}” isn't one of the words for “{column.header}”.", nearest(text, column.words))


def nearest(text: str, options: tuple[str, ...] | list[str]) -> str:
    """“Did you mean …?” where something is near, else what there is to choose from."""
    folded = {option.casefold(): option for option in options}
    near = difflib.get_close_matches(text.casefold(), folded, n=1, cutoff=0.6)
    if near:
        return f"Did you mean “{folded[near[0]]}”?"
    if not options:
        return "There is none yet: add it first."
    shown = ", ".join(options[:12]) + (f" and {len(options) - 12} more" if len(options) > 12 else "")
    return f"Use one of: {shown}."


def cut_short(text: str, options: Iterable[str]) -> tuple[str, ...]:
    """The options of which a text may be a shorter form: each of its words begins one of theirs, in their order.

    “Quill Elem.” for “Quill Ridge Elementary School”.
    """
    return tuple(option for option in options if _is_shorter(_words(text), iter(_words(option))))


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def _is_shorter(words: list[str], of: Iterator[str]) -> bool:
    """Each word is looked for behind the one before: `of` goes on where it stopped."""
    return bool(words) and all(any(long.startswith(word) for long in of) for word in words)


def _text(text: str) -> str:
    return text


def _code(text: str) -> str:
    if not _CODE.fullmatch(text):
        raise CellError(f"“{text}” isn't a code.", "Use letters, digits, - and _ without spaces.")
    return text


def _clock(text: str) -> dt.time:
    try:
        minutes = read_clock(text)
    except ClockError as error:
        message, _, remedy = str(error).partition(". ")
        raise CellError(f"{message}.", remedy or "Write it like 08:05, 13:05 or 1:05 PM.") from error
    if minutes < _SCHOOL_BEGINS and not re.search(r"[ap]\.?m?\.?\s*$", text.casefold()):
        hour, minute = divmod(minutes, 60)
        readings = tuple(f"{hour or 12}:{minute:02d} {half}" for half in ("PM", "AM"))
        message = f"“{text}” may be in the afternoon or at night."
        raise CellError(message, f"Write {' or '.join(readings)}.", readings)
    return dt.time(*divmod(minutes, 60))


def _date(text: str) -> dt.date:
    year, month, day = _date_parts(text)
    try:
        return dt.date(year + (2000 if year < 100 else 0), month, day)
    except ValueError as error:
        remedy = "Write year-month-day, such as 2026-09-08, or month/day/year."
        raise CellError(f"There is no day “{text}”.", remedy) from error


def _date_parts(text: str) -> tuple[int, int, int]:
    """Year (perhaps of two digits), month and day."""
    iso, local, named = _ISO_DATE.fullmatch(text), _US_DATE.fullmatch(text), _NAMED_DATE.fullmatch(text)
    if iso:
        return int(iso[1]), int(iso[2]), int(iso[3])
    if local:
        return int(local[3]), int(local[1]), int(local[2])
    if named is None:
        raise CellError(f"“{text}” isn't a date.", "Write it like 2026-09-08 or 9/8/2026 (month first).")
    return int(named[3] or named[6]), _month(text, named[2] or named[4]), int(named[1] or named[5])


def _month(text: str, name: str) -> int:
    """A month's number by the first three letters of its name."""
    begin = name[:3].casefold()
    if begin not in _MONTHS:
        raise CellError(f"“{text}” isn't a date.", "Write it like 2026-09-08 or 9/8/2026 (month first).")
    return _MONTHS.index(begin) + 1


def _integer(text: str) -> int:
    if not re.fullmatch(r"-?\d{1,9}", text):
        raise CellError(f"“{text}” isn't a whole number.", "Write digits only, such as 5.")
    return int(text)


def _decimal(text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation as error:
        raise CellError(f"“{text}” isn't a number.", "Write digits and a point, such as 43.104.") from error
    if not value.is_finite() or abs(value) > 1_000_000:
        raise CellError(f"“{text}” isn't a number that can be used.", "Write digits and a point, such as 43.104.")
    return value


def _yes_no(text: str) -> bool:
    if text.casefold() in _YES:
        return True
    if text.casefold() in _NO:
        return False
    raise CellError(f"“{text}” is neither yes nor no.", "Write yes or no.")


def _grades(text: str) -> str:
    try:
        read_grades(text)
    except ValueError as error:
        message, _, remedy = str(error).partition(". ")
        raise CellError(f"{message}.", remedy or f"Use {', '.join(GRADES)}.") from error
    return text


def parse_day(text: str) -> str:
    """A day's name as it is saved: `Mon` for any way to write Monday, else the label itself. Raises CellError."""
    name = " ".join(text.split())
    if len(name) > _LONGEST_DAY and name.casefold() not in _WEEKDAYS:
        raise CellError(
            f"“{name}” is too long for a day.", "Write Mon to Fri, a label such as Day 3 or A, A Mon, or first Wed."
        )
    return _WEEKDAYS.get(name.casefold().rstrip("."), name)


def _days(text: str) -> str:
    pieces = [piece.strip() for piece in re.split(r"[,;]", text) if piece.strip()]
    names = [name for piece in pieces for name in _letter_days(piece) or [parse_day(piece)]]
    if len(set(names)) < len(names):
        raise CellError(f"“{text}” names a day twice.", "Name each day once.")
    return ",".join(names)


def _letter_days(text: str) -> list[str]:
    """The weekdays of MWF, TTh or T/Th; none where it isn't such a word, or doesn't run on through the week."""
    if not _LETTERS.fullmatch(text):
        return []
    names = [_LETTER_DAYS[letter] for letter in _LETTER.findall(text)]
    order = [_FULL_WEEKDAYS.index(next(full for full in _FULL_WEEKDAYS if full.startswith(name))) for name in names]
    return names if order == sorted(set(order)) else []


def _names(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(piece.strip() for piece in text.split(";") if piece.strip()))


_PARSERS: Mapping[ColumnKind, Callable[[str], Any]] = {
    ColumnKind.TEXT: _text,
    ColumnKind.PERSON: _text,
    ColumnKind.PLACE: _text,
    ColumnKind.CODE: _code,
    ColumnKind.CLOCK: _clock,
    ColumnKind.DATE: _date,
    ColumnKind.INTEGER: _integer,
    ColumnKind.DECIMAL: _decimal,
    ColumnKind.YES_NO: _yes_no,
    ColumnKind.GRADES: _grades,
    ColumnKind.DAYS: _days,
    ColumnKind.NAMES: _names,
}


def write_cell(column: Column, value: Any) -> str:
    """A value as the text that parse_cell reads back to it."""
    if value is None or value == "":
        return ""
    if column.kind is ColumnKind.CHOICE:
        return next((word for word, stored in column.choices if stored == str(value)), str(value))
    return _plain_text(value)


def _plain_text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.time):
        return value.strftime("%H:%M")
    if isinstance(value, tuple | list):
        return "; ".join(value)
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def write_goals(goals: Iterable[tuple[str, int]]) -> str:
    """Goals by their student's code and their number, as a cell names them: “JV3 2; MM7 1”."""
    return "; ".join(sorted({f"{code} {number}" for code, number in goals}))
