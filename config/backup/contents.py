"""What a database holds, in a few figures: to be kept with a backup, and shown before one is put back."""

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

#: Runs one query and gives its rows.
type Query = Callable[[str], Iterable[tuple[Any, ...]]]

COUNTED = {
    "districts": "accounts_district",
    "people": "accounts_person",
    "students": "caseload_student",
    "weeks": "schedule_weekplan",
    "log entries": "caseload_deliveryentry",
}
"""What is counted, and in which table."""

DISTRICTS = "districts"
MIGRATIONS = "django_migrations"
CHANGES = "accounts_auditentry"


@dataclass(frozen=True, slots=True)
class Contents:
    """Figures of one database. `migrations` are (app, name) of those applied; `last_change` is None if empty."""

    counts: Mapping[str, int]
    migrations: frozenset[tuple[str, str]]
    last_change: dt.datetime | None

    @property
    def is_empty(self) -> bool:
        """Whether no district is in it, so that nothing is lost with it."""
        return not self.counts.get(DISTRICTS)

    @property
    def words(self) -> str:
        """Such as “1 district, 5 people, …; last change on November 28, 2026, 17:04 UTC”."""
        figures = ", ".join(
            f"{count:,} {_one(name) if count == 1 else name}" for name, count in self.counts.items()
        )
        changed = f"; last change on {moment_words(self.last_change)}" if self.last_change else ""
        return f"{figures or 'no tables of this program'}{changed}"


def _one(name: str) -> str:
    return {"people": "person", "log entries": "log entry"}.get(name, name.removesuffix("s"))


def moment_words(moment: dt.datetime) -> str:
    """Such as “November 28, 2026, 17:04 UTC”."""
    return f"{moment.astimezone(dt.UTC):%B %-d, %Y, %H:%M} UTC"


def contents_of(query: Query, tables: Collection[str]) -> Contents:
    """The figures of the database that `query` asks and that has these tables."""
    counts = {
        name: int(next(iter(query(f"SELECT COUNT(*) FROM {table}")))[0])  # noqa: S608 -- names of our own tables
        for name, table in COUNTED.items()
        if table in tables
    }
    migrations = query(f"SELECT app, name FROM {MIGRATIONS}") if MIGRATIONS in tables else ()  # noqa: S608 -- as above
    last = next(iter(query(f"SELECT MAX(at) FROM {CHANGES}")))[0] if CHANGES in tables else None  # noqa: S608
    return Contents(counts, frozenset((str(app), str(name)) for app, name in migrations), _moment(last))


def _moment(value: object) -> dt.datetime | None:
    """A moment as PostgreSQL gives it, or as Django writes it into SQLite: text, in UTC."""
    if value is None:
        return None
    moment = value if isinstance(value, dt.datetime) else dt.datetime.fromisoformat(str(value))
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
