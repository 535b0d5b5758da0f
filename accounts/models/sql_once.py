"""Questions to the database that pages ask all day, their SQL written once a process.

Django takes 0.3 to 2 milliseconds to write the SQL of a question, and the database a tenth of that to answer it.
What is kept is the SQL and how rows are read, never a row: each time the database is asked anew. A question names
ids, dates and words that it is given and nothing of who asks, so that one person's SQL can't answer another: what
hangs on the viewer is decided before, by `visible_to`.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import count, pairwise
from operator import itemgetter
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import QuerySet
from django.db.models.query import (
    FlatValuesListIterable,
    ModelIterable,
    ValuesListIterable,
    get_related_populators,
    prefetch_related_objects,
)

type Given = int | str | dt.date | dt.datetime | UUID
type Adapt = Callable[[Any], Any]

MOST = 256
"""Values of one question; with more it is written anew, which then is little beside its answer."""
STANDS = "stands for "


@dataclass(frozen=True, slots=True)
class _Written[Row]:
    """A question in SQL: what stands at its places, and how a row of the answer is read."""

    sql: str
    places: tuple[tuple[int, Any], ...]
    """The number of the value that is given and how the database takes it; -1 and what always stands there."""
    converters: tuple[tuple[int, Sequence[Callable[..., Any]], Any], ...]
    made: Callable[[Sequence[Any]], Row]
    beside: tuple[Any, ...]
    """What is read of other tables for the rows (`prefetch_related`)."""

    def asked(self, given: Sequence[Given]) -> list[Any]:
        """What stands at the places."""
        return [told if at < 0 else told(given[at]) for at, told in self.places]

    def read(self, values: Sequence[Any]) -> Row:
        """A row of what the database gave, each value as its field reads it."""
        found = list(values)
        for position, steps, expression in self.converters:
            for step in steps:
                found[position] = step(found[position], expression, connection)
        return self.made(found)


class SqlOnce[Row]:
    """A queryset over some values, asked by the same SQL each time.

    `build` takes values, or several at a time for "in": each is an id, a date, a moment, a UUID or a word. It makes
    rows of a model or `values_list`, names each of them as it is given, and no other number or date: anything else
    is refused (`ValueError`), since it could be one person's.
    """

    def __init__(self, build: Callable[..., QuerySet[Any, Row]]) -> None:
        self._build = build
        self._written = lru_cache(self._write)

    def __call__(self, *given: Given | Collection[Given] | None) -> list[Row]:
        """The rows for these values; none where a value isn't known."""
        if None in given:
            return []
        parts = [_part(one) for one in given]
        if any(not 0 < len(one.values) <= MOST for one in parts):
            return list(self._build(*given))
        written = self._written(connection.vendor, tuple(one.shape for one in parts))
        asked = written.asked([value for one in parts for value in one.values])
        with connection.cursor() as cursor:
            cursor.execute(written.sql, asked)
            answered: Iterable[Sequence[Any]] = cursor.fetchall()
        found: list[Any] = [written.read(values) for values in answered]
        if written.beside:
            prefetch_related_objects(found, *written.beside)
        return found

    def _write(self, vendor: str, shape: tuple[tuple[int | None, type], ...]) -> _Written[Row]:
        """The SQL with a place for each value. Raises `ValueError` where it names another number or date."""
        del vendor  # the database that is asked now
        numbers = count(1)
        told: dict[Any, tuple[int, Any]] = {}
        args: list[Any] = []
        for several, kind in shape:
            stands = [_stand_in(kind, next(numbers), told) for _ in range(1 if several is None else several)]
            args.append(stands[0] if several is None else stands)
        rows: Any = self._build(*args)
        compiler = rows.query.get_compiler(connection=connection)
        sql, found = compiler.as_sql()
        around = pairwise(sql.split("%s"))
        places = tuple(_place(one, told, *beside) for one, beside in zip(found, around, strict=True))
        _all_named(sql, places, next(numbers) - 1)
        columns = [column for column, *_ in compiler.select]
        converters = compiler.get_converters(columns)
        return _Written(
            sql,
            places,
            tuple((at, tuple(steps), expression) for at, (steps, expression) in converters.items()),
            _maker(rows, compiler),
            rows._prefetch_related_lookups,  # noqa: SLF001 -- what the queryset would read beside its rows
        )


@dataclass(frozen=True, slots=True)
class _Part:
    """One or several of the values that a question is given."""

    values: Sequence[Given]
    alone: bool

    @property
    def shape(self) -> tuple[int | None, type]:
        """What the SQL hangs on: how many there are, None for one alone, and what they are."""
        return None if self.alone else len(self.values), type(self.values[0])


def _part(given: Any) -> _Part:
    """Values for "in" are as many as a power of two, the last again and again: so few numbers of them come up."""
    if isinstance(given, (int, str, dt.date, UUID)):
        return _Part((given,), alone=True)
    found = list(given)
    size = 1
    while size < len(found):
        size *= 2
    return _Part(found + found[-1:] * (size - len(found)), alone=False)


def _same(value: Any) -> Any:
    return value


def _hex(value: UUID) -> str:
    return value.hex


def _stand_in(kind: type, number: int, told: dict[Any, tuple[int, Any]]) -> Any:
    """What stands for a value while the SQL is written; `told`: by what the SQL names, which value, and how."""
    stand, ways = _stands_of(kind, number)
    for way in ways:
        told[way(stand)] = (number - 1, way)
    return stand


def _stands_of(kind: type, number: int) -> tuple[Any, tuple[Adapt, ...]]:
    """Far from one another, so that the day after one of them isn't taken for another one."""
    ops: Any = connection.ops
    if issubclass(kind, dt.datetime):
        moment = dt.datetime(9000, 1, 1, tzinfo=dt.UTC) + dt.timedelta(days=100 * number, seconds=number)
        return moment, (ops.adapt_datetimefield_value,)
    if issubclass(kind, dt.date):
        return dt.date(9000, 1, 1) + dt.timedelta(days=100 * number), (ops.adapt_datefield_value,)
    if issubclass(kind, UUID):
        return UUID(int=(0xFEED << 96) + number), (_same, _hex)
    if issubclass(kind, str):
        return f"{STANDS}{number}", (_same,)
    return 1_900_000_000 + 1000 * number, (_same,)


def _place(named: Any, told: dict[Any, tuple[int, Any]], before: str, after: str) -> tuple[int, Any]:
    """What stands at a place of the SQL: a value that is given, or a word or a yes or no of the question itself.

    "EXISTS (SELECT 1 AS a ...)" names no row by its 1.
    """
    if named in told:
        return told[named]
    is_any = before.endswith("SELECT ") and after.startswith(' AS "a" FROM')
    is_word = isinstance(named, (str, bool)) and not str(named)[:1].isdigit() and STANDS not in str(named)
    if is_any or is_word:
        return -1, named
    raise ValueError(f"The question {before[-80:]}%s{after[:40]} names {named!r}, which isn't given to it.")


def _all_named(sql: str, places: Iterable[tuple[int, Any]], given: int) -> None:
    """Raise `ValueError` where one of the given values has no place, such as a number of rows."""
    if len({at for at, _ in places if at >= 0}) < given:
        raise ValueError(f"The question {sql[:80]} doesn't name a value that is given to it.")


def _maker(rows: Any, compiler: Any) -> Callable[[Sequence[Any]], Any]:
    """How values become a row, as the queryset's own iterable does it."""
    kind = rows._iterable_class  # noqa: SLF001 -- what the queryset would make of its rows
    if kind is FlatValuesListIterable:
        return itemgetter(0)
    if kind is ValuesListIterable:
        return tuple
    if kind is not ModelIterable:
        raise ValueError(f"{kind.__name__} isn't read here.")
    model = rows.model
    own = compiler.klass_info["select_fields"]
    first, end = own[0], own[-1] + 1
    names = [column.target.attname for column, *_ in compiler.select[first:end]]
    mode = rows._fetch_mode  # noqa: SLF001 -- as above
    related = get_related_populators(compiler.klass_info, compiler.select, connection.alias, mode)
    annotations = dict(compiler.annotation_col_map or {})

    def made(values: Sequence[Any]) -> Any:
        row = model.from_db(connection.alias, names, values[first:end])
        for one in related:
            one.populate(values, row)
        for name, at in annotations.items():
            setattr(row, name, values[at])
        return row

    return made
