"""What is no backup, or none for here, is refused before anything is touched."""

import datetime as dt
import io
import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from accounts.errors import ApplicationError
from config.backup.archive import backup_write
from config.backup.contents import Contents, contents_of
from config.backup.services import backup_check
from config.backup.sqlite import PART, SqliteStore

ROWS = 2000


@pytest.fixture
def database(tmp_path: Path) -> Path:
    """An SQLite file of several pages, with a district's row."""
    path = tmp_path / "database.sqlite3"
    with closing(sqlite3.connect(path)) as made, made:
        made.execute("CREATE TABLE accounts_district (name TEXT)")
        made.executemany("INSERT INTO accounts_district VALUES (?)", [(f"District {n}",) for n in range(ROWS)])
        made.execute("CREATE INDEX by_name ON accounts_district (name)")
    return path


@pytest.fixture
def backup(tmp_path: Path, database: Path) -> Path:
    """A backup of it."""
    path = tmp_path / "backup.zip"
    backup_write(path, "sqlite", PART, SqliteStore(database).fill)
    return path


def rewritten(backup: Path, change: Callable[[dict[str, Any], bytes], tuple[dict[str, Any], bytes]]) -> None:
    """Pack a backup again with another manifest or database, checksums and all."""
    with zipfile.ZipFile(backup) as old:
        manifest, part = change(json.loads(old.read("manifest.json")), old.read(PART))
    with zipfile.ZipFile(backup, "w") as new:
        new.writestr("manifest.json", json.dumps(manifest))
        new.writestr(PART, part)


def test_a_whole_one_says_what_it_holds(backup: Path) -> None:
    assert backup_check(path=backup).contents.words == f"{ROWS:,} districts"


def _cut(backup: Path) -> None:
    backup.write_bytes(backup.read_bytes()[:-200])


def _flip(backup: Path) -> None:
    content = bytearray(backup.read_bytes())
    content[len(content) // 2] ^= 0xFF
    backup.write_bytes(content)


def _other_archive(backup: Path) -> None:
    with zipfile.ZipFile(backup, "w") as archive:
        archive.writestr("manifest.json", json.dumps({"program": "Another", "format": 1}))


def _bare_database(backup: Path) -> None:
    with zipfile.ZipFile(backup) as archive:
        backup.write_bytes(archive.read(PART))


def _lost_page(backup: Path) -> None:
    rewritten(backup, lambda manifest, part: (manifest, part[:8192] + bytes(4096) + part[12288:]))


def _no_database(backup: Path) -> None:
    rewritten(backup, lambda manifest, _part: (manifest, b"something else altogether"))


def _of_postgresql(backup: Path) -> None:
    rewritten(backup, lambda manifest, part: ({**manifest, "engine": "postgresql"}, part))


def _of_tomorrow(backup: Path) -> None:
    later = {"migrations": [["caseload", "9999_of_tomorrow"]]}
    rewritten(backup, lambda manifest, part: ({**manifest, **later}, part))


def _of_another_format(backup: Path) -> None:
    rewritten(backup, lambda manifest, part: ({**manifest, "format": 2}, part))


def _half_a_manifest(backup: Path) -> None:
    rewritten(backup, lambda manifest, part: ({**manifest, "counts": ["many"]}, part))


@pytest.mark.parametrize(
    ("harm", "code", "words"),
    [
        (Path.unlink, "no_file", "There is no file"),
        (_cut, "no_backup", "or is only part of one"),
        (_bare_database, "no_backup", "that manage.py backup wrote"),
        (_other_archive, "no_backup", "that manage.py backup wrote"),
        (_half_a_manifest, "no_backup", "that manage.py backup wrote"),
        (_flip, "damaged_backup", "is damaged"),
        (_lost_page, "damaged_backup", "is damaged"),
        (_no_database, "damaged_backup", "file is not a database"),
        (_of_postgresql, "another_engine", "is a backup of PostgreSQL, and DATABASE_URL names SQLite"),
        (_of_tomorrow, "newer_backup", "such as caseload.9999_of_tomorrow"),
        (_of_another_format, "newer_backup", "Update the program first"),
    ],
)
def test_what_cannot_be_put_back_is_refused(
    backup: Path, harm: Callable[[Path], None], code: str, words: str
) -> None:
    harm(backup)
    with pytest.raises(ApplicationError) as caught:
        backup_check(path=backup)
    assert caught.value.code == code
    assert words in caught.value.message


def test_a_damaged_database_makes_no_backup(database: Path, tmp_path: Path) -> None:
    content = database.read_bytes()
    database.write_bytes(content[:8192] + bytes(4096) + content[12288:])
    with pytest.raises(ApplicationError, match="is damaged"):
        backup_write(tmp_path / "none.zip", "sqlite", PART, SqliteStore(database).fill)
    assert [path.name for path in tmp_path.iterdir()] == [database.name]


def test_a_file_is_never_written_over(backup: Path, database: Path) -> None:
    content = backup.read_bytes()
    with pytest.raises(ApplicationError, match="already exists"):
        backup_write(backup, "sqlite", PART, SqliteStore(database).fill)
    assert backup.read_bytes() == content


def test_a_place_that_cannot_be_written_to_is_named(tmp_path: Path, database: Path) -> None:
    with pytest.raises(ApplicationError, match="can't be written"):
        backup_write(tmp_path / "no folder" / "backup.zip", "sqlite", PART, SqliteStore(database).fill)


def test_figures_in_words() -> None:
    moment = dt.datetime(2026, 11, 28, 17, 4, tzinfo=dt.UTC)
    one = Contents({"districts": 1, "people": 1, "log entries": 1}, frozenset(), moment)
    assert one.words == "1 district, 1 person, 1 log entry; last change on November 28, 2026, 17:04 UTC"
    assert Contents({}, frozenset(), None).is_empty


def test_a_moment_of_sqlite_is_utc() -> None:
    """Django writes moments into SQLite as text without a zone, in UTC (its documentation on databases)."""
    found = contents_of(lambda _query: [("2026-11-28 17:04:05.5",)], {"accounts_auditentry"})
    assert found.last_change == dt.datetime(2026, 11, 28, 17, 4, 5, 500000, tzinfo=dt.UTC)


def test_a_backup_is_filled_by_what_it_is_given(tmp_path: Path) -> None:
    """And stands there whole, with nothing beside it."""
    path = tmp_path / "backup.zip"

    def fill(out: Any) -> Contents:
        out.write(b"rows")
        return Contents({}, frozenset(), None)

    backup_write(path, "sqlite", PART, fill)
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        assert archive.read(PART) == b"rows"
    assert [one.name for one in tmp_path.iterdir()] == ["backup.zip"]
