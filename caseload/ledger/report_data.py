"""What a report of minutes holds, whatever it is shown as: facts, tables, one chart, the rules in force. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from itertools import accumulate
from typing import Any

from accounts.dates import span_words

type Cell = str | int | date
"""A text, whole minutes or a count, or a day."""

FIGURES = (
    "Owed",
    "Delivered",
    "Made up",
    "Missed",
    "Not owed",
    "Team decides",
    "Not logged",
    "Still owed",
    "Open from before",
    "Ahead",
)
"""How figures are called, in the order of their columns."""

WIDTH, HEIGHT = 640, 240
LEFT, RIGHT, TOP, BOTTOM = 52, 152, 14, 34
"""Measures of the chart in its own units; the right margin holds the names of the lines."""


@dataclass(frozen=True, slots=True)
class ReportTable:
    """A table. Columns at the positions in `numbers` hold whole minutes or counts."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    numbers: frozenset[int] = frozenset()
    totals: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class ChartTick:
    """A mark on an axis of the chart and its text."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Owed against delivered minutes, added up over time, as lines of steps in the chart's own units.

    `owed_at` and `delivered_at` are the heights at which the lines end, kept apart for their names.
    """

    owed: str
    delivered: str
    owed_total: int
    delivered_total: int
    owed_at: float
    delivered_at: float
    days: tuple[ChartTick, ...]
    minutes: tuple[ChartTick, ...]
    words: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    base: int = HEIGHT - BOTTOM
    top: int = TOP


@dataclass(frozen=True, slots=True)
class Report:
    """A report. `subject` may name a student and stays out of addresses, file names and logs; `key` doesn't."""

    kind: str
    key: str
    title: str
    subject: str
    facts: tuple[tuple[str, str], ...]
    tables: tuple[ReportTable, ...]
    rules: tuple[str, ...]
    chart: Chart | None = None
    notes: tuple[str, ...] = ()


def report_to_json(report: Report) -> dict[str, Any]:
    """A report without a chart as JSON values."""
    plain = asdict(replace(report, chart=None))
    for table in plain["tables"]:
        table["numbers"] = sorted(table["numbers"])
    return plain


def report_from_json(plain: Mapping[str, Any]) -> Report:
    """A report from what `report_to_json` wrote."""
    tables = tuple(
        ReportTable(
            one["title"],
            tuple(one["columns"]),
            tuple(tuple(row) for row in one["rows"]),
            frozenset(one["numbers"]),
            tuple(one["totals"]),
        )
        for one in plain["tables"]
    )
    texts = {name: plain[name] for name in ("kind", "key", "title", "subject")}
    facts = tuple((name, value) for name, value in plain["facts"])
    return Report(**texts, facts=facts, tables=tables, rules=tuple(plain["rules"]), notes=tuple(plain["notes"]))


def step_chart(
    owed: Iterable[tuple[date, int]], delivered: Iterable[tuple[date, int]], first: date, last: date
) -> Chart:
    """A chart of (date, minutes) events from `first` to `last`; events outside are left out."""
    span = max((last - first).days, 1)
    owed_sums = _running(owed, first, last)
    delivered_sums = _running(delivered, first, last)
    highest = max(owed_sums[-1][1], delivered_sums[-1][1], 1)
    step = _nice_step(highest)
    top = -(-highest // step) * step

    def x(day: date) -> float:
        return round(LEFT + (day - first).days / span * (WIDTH - LEFT - RIGHT), 1)

    def y(minutes: int) -> float:
        return round(HEIGHT - BOTTOM - minutes / top * (HEIGHT - TOP - BOTTOM), 1)

    def path(sums: Sequence[tuple[date, int]]) -> str:
        parts = [f"M{x(first)} {y(0)}"]
        for day, minutes in sums:
            parts.append(f"H{x(day)}V{y(minutes)}")
        return "".join([*parts, f"H{x(last)}"])

    owed_at, delivered_at = _apart(y(owed_sums[-1][1]), y(delivered_sums[-1][1]))
    return Chart(
        owed=path(owed_sums),
        delivered=path(delivered_sums),
        owed_total=owed_sums[-1][1],
        delivered_total=delivered_sums[-1][1],
        owed_at=owed_at,
        delivered_at=delivered_at,
        days=tuple(ChartTick(x(day), f"{day:%b %-d}") for day in _day_ticks(first, last)),
        minutes=tuple(ChartTick(y(minutes), str(minutes)) for minutes in range(0, top + 1, step)),
        words=(
            f"From {span_words(first, last)}: {owed_sums[-1][1]} minutes owed, "
            f"{delivered_sums[-1][1]} delivered or made up."
        ),
    )


def _running(events: Iterable[tuple[date, int]], first: date, last: date) -> list[tuple[date, int]]:
    inside = sorted((day, minutes) for day, minutes in events if first <= day <= last)
    sums = accumulate(minutes for _, minutes in inside)
    return list(zip((day for day, _ in inside), sums, strict=True)) or [(first, 0)]


def _nice_step(highest: int) -> int:
    """The smallest round step that gives at most five marks."""
    step = 1
    while True:
        for factor in (1, 2, 3, 5):
            if step * factor * 5 >= highest:
                return step * factor
        step *= 10


def _apart(one: float, other: float) -> tuple[float, float]:
    """Heights of two names that don't overlap: at least 20 units apart, the lower line's name below."""
    if abs(one - other) >= 20:
        return one, other
    middle = (one + other) / 2
    return (middle - 10, middle + 10) if one <= other else (middle + 10, middle - 10)


def _day_ticks(first: date, last: date) -> list[date]:
    """Up to four dates, the first and the last among them."""
    days = (last - first).days
    count = min(3, max(days, 1))
    return [first + timedelta(days=days * number // count) for number in range(count + 1)]
