"""The file of a district: a ZIP archive with a manifest and a file for each table, a line of JSON for each row.

Any ZIP program takes it apart, and any text editor reads it. The manifest says of each table how many rows it has
and the SHA-256 of its file: enough to notice what was cut, damaged or edited, no proof of who wrote it.
"""

import datetime as dt
import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from accounts.errors import ApplicationError
from config.backup.archive import MANIFEST, PROGRAM

KIND = "district"
FORMAT = 1
LONGEST_LINE = 64 * 1024 * 1024
"""Bytes of a row. The largest that is written, a stored report or a picture, stays far below it."""
DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, KeyError, RuntimeError, ValueError)
"""What is raised where an archive is cut, damaged, or packed or locked by another program."""


@dataclass(frozen=True, slots=True)
class HeldRows:
    """What an archive says of a table: rows, SHA-256 of its file in hex, the last number that it gave to a row."""

    rows: int
    sha256: str
    last_number: int


@dataclass(frozen=True, slots=True)
class DistrictManifest:
    """What an archive says of itself. `made_at` is UTC; `migrations` are (app, name); `tables` by label."""

    made_at: dt.datetime
    district: str
    migrations: frozenset[tuple[str, str]]
    tables: Mapping[str, HeldRows]
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """Of all tables."""
        return sum(one.rows for one in self.tables.values())


def part_name(label: str) -> str:
    """The file of a table within the archive."""
    return f"tables/{label}.jsonl"


class CountedLines:
    """Lines on their way: how many there are and the digest of them all."""

    def __init__(self) -> None:
        self.rows = 0
        self._digest = hashlib.sha256()

    def through(self, lines: Iterable[bytes]) -> Iterator[bytes]:
        """The same lines, counted."""
        for line in lines:
            self.rows += 1
            self._digest.update(line)
            yield line

    @property
    def sha256(self) -> str:
        """Of the lines so far, in hex."""
        return self._digest.hexdigest()


def table_write(archive: zipfile.ZipFile, label: str, lines: Iterable[bytes], last_number: int) -> HeldRows:
    """Write the file of a table, line by line."""
    counted = CountedLines()
    with archive.open(part_name(label), "w", force_zip64=True) as part:
        for line in counted.through(lines):
            part.write(line)
    return HeldRows(counted.rows, counted.sha256, last_number)


def manifest_write(archive: zipfile.ZipFile, manifest: DistrictManifest) -> None:
    """Last of all: an archive without it is part of one."""
    told = {
        "program": PROGRAM,
        "holds": KIND,
        "format": FORMAT,
        "made_at": manifest.made_at.isoformat(),
        "district": manifest.district,
        "migrations": sorted(manifest.migrations),
        "tables": {
            label: {"rows": one.rows, "sha256": one.sha256, "last_number": one.last_number}
            for label, one in manifest.tables.items()
        },
        "left_out": manifest.left_out,
    }
    archive.writestr(MANIFEST, json.dumps(told, indent=1))


@contextmanager
def archive_opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, DistrictManifest]]:
    """The archive and what it says of itself. Raises `ApplicationError` if the file is none of this program."""
    try:
        archive = zipfile.ZipFile(path)
    except FileNotFoundError as error:
        raise ApplicationError(f"There is no file {path}.", code="no_file") from error
    except OSError as error:
        raise ApplicationError(f"{path} can't be read: {error.strerror}.", code="file_refused") from error
    except DAMAGE as error:
        raise _no_archive(path) from error
    with archive:
        try:
            told = json.loads(archive.read(MANIFEST))
        except DAMAGE as error:
            raise _no_archive(path) from error
        yield archive, _manifest(path, told)


def _no_archive(path: Path) -> ApplicationError:
    return ApplicationError(
        f"{path} isn't a district's archive of {PROGRAM}, or is only part of one. Name a file that manage.py "
        "district_out wrote.",
        code="no_archive",
    )


def _manifest(path: Path, told: Any) -> DistrictManifest:
    if not isinstance(told, dict) or told.get("program") != PROGRAM:
        raise _no_archive(path)
    if told.get("holds") != KIND:
        raise ApplicationError(
            f"{path} is a backup of a whole database: manage.py restore puts it back.", code="a_backup"
        )
    if told.get("format") != FORMAT:
        raise ApplicationError(
            f"{path} was written by a newer version of {PROGRAM}. Update the program first.", code="newer_archive"
        )
    try:
        return DistrictManifest(
            made_at=dt.datetime.fromisoformat(told["made_at"]),
            district=str(told["district"]),
            migrations=frozenset((str(app), str(name)) for app, name in told["migrations"]),
            tables={
                str(label): HeldRows(int(one["rows"]), str(one["sha256"]), int(one["last_number"]))
                for label, one in dict(told["tables"]).items()
            },
        )
    except (KeyError, TypeError, ValueError) as error:
        raise _no_archive(path) from error


def table_lines(archive: zipfile.ZipFile, label: str) -> Iterator[bytes]:
    """The lines of a table's file. Raises `ApplicationError` where it is cut or damaged."""
    try:
        with archive.open(part_name(label)) as part:
            yield from _lines(part)
    except DAMAGE as error:
        raise altered(archive, label, "its file is missing or damaged") from error


def _lines(part: IO[bytes]) -> Iterator[bytes]:
    while line := part.readline(LONGEST_LINE):
        if not line.endswith(b"\n"):
            message = "a line without an end"
            raise ValueError(message)
        yield line


def altered(archive: zipfile.ZipFile, label: str, what: str) -> ApplicationError:
    """The error for an archive that isn't what was written."""
    return ApplicationError(
        f"{archive.filename} was damaged or edited: {label}, {what}. Nothing was changed. Use another copy, or "
        "take the district out again.",
        code="altered_archive",
    )
