"""The file of a backup: a ZIP archive with a manifest and the database beside it.

Both parts can be taken out with any ZIP program: the database is an SQLite file, or what `pg_dump` wrote in its
custom format.
"""

import datetime as dt
import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from accounts.errors import ApplicationError
from config.backup.contents import Contents

PROGRAM = "Minutes & Miles"
FORMAT = 1
MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself. `engine` is Django's name of the kind of database; `made_at` is UTC."""

    made_at: dt.datetime
    engine: str
    database: str
    contents: Contents


def backup_write(path: Path, engine: str, database: str, fill: Callable[[IO[bytes]], Contents]) -> Manifest:
    """Write a backup whose part `database` is filled by `fill`, whole or not at all; readable by its owner only.

    Raises `ApplicationError` if there is such a file already or none can be made there.
    """
    with new_file(path) as file:
        return _fill(file, engine, database, fill)


@contextmanager
def new_file(path: Path) -> Iterator[IO[bytes]]:
    """A file that is there under its name only once it is whole; readable by its owner only.

    Raises `ApplicationError` if there is such a file already or none can be made there.
    """
    unfinished = path.with_name(f"{path.name}.part")
    if path.exists():
        raise ApplicationError(f"{path} already exists. Name another file, or move that one.", code="file_exists")
    try:
        unfinished.unlink(missing_ok=True)
        handle = os.open(unfinished, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise ApplicationError(f"{path} can't be written: {error.strerror}.", code="file_refused") from error
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        unfinished.rename(path)
    except OSError as error:
        raise ApplicationError(f"{path} can't be written: {error.strerror}.", code="file_refused") from error
    finally:
        unfinished.unlink(missing_ok=True)


def _fill(file: IO[bytes], engine: str, database: str, fill: Callable[[IO[bytes]], Contents]) -> Manifest:
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        with archive.open(database, "w", force_zip64=True) as part:
            contents = fill(part)
        manifest = Manifest(dt.datetime.now(dt.UTC), engine, database, contents)
        archive.writestr(MANIFEST, json.dumps(_told(manifest), indent=2))
    return manifest


def _told(manifest: Manifest) -> Mapping[str, Any]:
    last = manifest.contents.last_change
    return {
        "program": PROGRAM,
        "format": FORMAT,
        "made_at": manifest.made_at.isoformat(),
        "engine": manifest.engine,
        "database": manifest.database,
        "counts": manifest.contents.counts,
        "last_change": last.isoformat() if last else None,
        "migrations": sorted(manifest.contents.migrations),
    }


def manifest_read(path: Path) -> Manifest:
    """What the backup says of itself. Raises `ApplicationError` if the file is no backup of this program."""
    try:
        with zipfile.ZipFile(path) as archive:
            told = json.loads(archive.read(MANIFEST))
    except FileNotFoundError as error:
        raise ApplicationError(f"There is no file {path}.", code="no_file") from error
    except OSError as error:
        raise ApplicationError(f"{path} can't be read: {error.strerror}.", code="file_refused") from error
    except (zipfile.BadZipFile, KeyError, ValueError) as error:
        raise _no_backup(path) from error
    if not isinstance(told, dict) or told.get("program") != PROGRAM:
        raise _no_backup(path)
    if told.get("format") != FORMAT:
        raise ApplicationError(
            f"{path} was written by a newer version of {PROGRAM}. Update the program first.", code="newer_backup"
        )
    try:
        return _manifest(told)
    except (KeyError, TypeError, ValueError) as error:
        raise _no_backup(path) from error


def _no_backup(path: Path) -> ApplicationError:
    return ApplicationError(
        f"{path} isn't a backup of {PROGRAM}, or is only part of one. Name a file that manage.py backup wrote.",
        code="no_backup",
    )


def _manifest(told: Mapping[str, Any]) -> Manifest:
    last = told["last_change"]
    return Manifest(
        made_at=dt.datetime.fromisoformat(told["made_at"]),
        engine=str(told["engine"]),
        database=str(told["database"]),
        contents=Contents(
            counts={str(name): int(count) for name, count in dict(told["counts"]).items()},
            migrations=frozenset((str(app), str(name)) for app, name in told["migrations"]),
            last_change=dt.datetime.fromisoformat(last) if last else None,
        ),
    )


def database_extract(path: Path, manifest: Manifest, folder: Path) -> Path:
    """The database of a backup as a file in `folder`. Raises `ApplicationError` if the backup is damaged."""
    target = folder / "database"
    try:
        with (
            zipfile.ZipFile(path) as archive,
            archive.open(manifest.database) as part,
            target.open("wb") as file,
        ):
            # Reading to the end compares the checksum.
            shutil.copyfileobj(part, file)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError) as error:
        raise damaged(path) from error
    return target


def damaged(path: Path, detail: str = "") -> ApplicationError:
    """The error for a backup whose database can't be read."""
    return ApplicationError(
        f"{path} is damaged{f' ({detail})' if detail else ''}: nothing was changed. Use another backup.",
        code="damaged_backup",
    )
