"""The coordinator's page as a report, for files: the same sums, table by table. Pure."""

import datetime as dt

from accounts.dates import date_words
from caseload.ledger.report_data import FIGURES, Cell, Report, ReportTable
from schedule.overview.sums import BY_WORDS, MinuteSums, Overview

MINUTES = ("Services", *(name for name in FIGURES if name != "Ahead"), "Likely short")
NOTE = (
    "Sums of each teacher's ledgers as they were counted last; the ledgers themselves decide. "
    "“Likely short” is what the forecast misses by the end of each service, marking period or year."
)


def minute_cells(sums: MinuteSums) -> tuple[int, ...]:
    """Sums in the order of `MINUTES`."""
    return (
        sums.services,
        sums.owed,
        sums.delivered,
        sums.made_up,
        sums.missed,
        sums.not_owed,
        sums.undecided,
        sums.unlogged,
        sums.behind,
        sums.opening,
        sums.short,
    )


def overview_report(found: Overview, district: str, made: tuple[str, str], as_of: str) -> Report:
    """`as_of` says how old the counts are; `made` when and by whom the file is made."""
    tables = (_minutes(found), _reasons(found), _loads(found), _waits(found))
    return Report(
        kind="overview",
        key="overview",
        title="How the district stands",
        subject=district,
        facts=(("As of", as_of), made),
        tables=tuple(table for table in tables if table.rows),
        rules=(),
        notes=(NOTE,),
    )


def _numbers(texts: int, columns: tuple[str, ...]) -> frozenset[int]:
    return frozenset(range(texts, len(columns)))


def _minutes(found: Overview) -> ReportTable:
    columns = (BY_WORDS[found.asked.by], *MINUTES)
    rows: tuple[tuple[Cell, ...], ...] = tuple((one.name, *minute_cells(one.sums)) for one in found.lines)
    return ReportTable("Minutes", columns, rows, _numbers(1, columns), ("Together", *minute_cells(found.sums)))


def _reasons(found: Overview) -> ReportTable:
    columns = ("Why it was missed", "Minutes")
    rows: tuple[tuple[Cell, ...], ...] = tuple((one.name, one.minutes) for one in found.reasons)
    return ReportTable("Missed", columns, rows, _numbers(1, columns))


def _loads(found: Overview) -> ReportTable:
    columns = ("Teacher", "Students", "Schools", "Week", "Contract", "Driving", "Miles", "Not placed")
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            one.teacher,
            one.students,
            one.schools,
            one.worked,
            "" if one.contract is None else one.contract,
            one.wheel,
            str(one.miles),
            one.unplaced,
        )
        for one in found.loads
    )
    return ReportTable("Weeks in force", columns, rows, _numbers(1, columns))


def _waits(found: Overview) -> ReportTable:
    columns = ("Kind", "What", "Earliest", "Teachers", "Minutes")
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (kind.label, one.words, one.due, one.teachers, one.minutes) for kind in found.waits for one in kind.causes
    )
    return ReportTable("What waits, the largest causes", columns, rows, _numbers(3, columns))


def as_of_words(oldest: dt.datetime | None, newest: dt.datetime | None) -> str:
    """When the counts were made: local times, one date if it is the same day."""
    if oldest is None or newest is None:
        return "not counted yet"
    first, last = date_words(oldest.date()), date_words(newest.date())
    return first if first == last else f"{first} to {last}"
