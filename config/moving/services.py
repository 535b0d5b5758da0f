"""Taking a district out, and taking one in: what is refused, and what is looked at before it stays."""

import datetime as dt
import zipfile
from collections.abc import Iterable, Iterator
from itertools import batched
from pathlib import Path
from typing import Any

from django.db import DatabaseError, connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.models import Q

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import audit_write
from config.backup.archive import new_file
from config.backup.contents import moment_words
from config.moving.archive import (
    CountedLines,
    DistrictManifest,
    altered,
    archive_opened,
    manifest_write,
    table_lines,
    table_write,
)
from config.moving.belonging import LEFT_OUT, DistrictTable, district_tables, every_row
from config.moving.counters import last_number, last_numbers_set, numbered
from config.moving.lines import UnreadableLineError, line_read
from config.moving.selectors import closed_require, lines_of, reading
from jobs.models import Job
from jobs.services import jobs_stop_all

AT_ONCE = 200


def district_take_out(*, path: Path, district: District, now: dt.datetime) -> tuple[Path, DistrictManifest]:
    """Write the whole district, as it is at one moment, to a new file, or to one in a folder; others go on working.

    Raises `ApplicationError` where the file is there already, or a row of the district names one that isn't.
    """
    file = path / f"district-{district.pk}-{now:%Y-%m-%d-%H%M%S}.zip" if path.is_dir() else path
    with new_file(file) as out, reading(), transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        closed_require(district)
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            held = {
                one.label: table_write(
                    archive,
                    one.label,
                    lines_of(one, district),
                    last_number(one.model) if numbered(one.model) else 0,
                )
                for one in district_tables()
            }
            manifest = DistrictManifest(now, district.name, _migrations(), held, LEFT_OUT)
            manifest_write(archive, manifest)
    with transaction.atomic():
        audit_write(actor=None, district=district, action="district_out", row=district)
    return file, manifest


def archive_check(*, path: Path) -> DistrictManifest:
    """Read an archive to its end and hold it against what it says of itself and against this program.

    Raises `ApplicationError` for what isn't one, one that was cut, damaged or edited, and one whose tables are
    those of another version of the program.
    """
    with archive_opened(path) as (archive, manifest):
        _same_tables_require(path, manifest)
        for table in district_tables():
            counted = CountedLines()
            for _values in _values_of(archive, table, counted.through(table_lines(archive, table.label))):
                pass
            held = manifest.tables[table.label]
            if (counted.rows, counted.sha256) != (held.rows, held.sha256):
                raise altered(archive, table.label, "its rows aren't those that were written")
    return manifest


def district_take_in(*, path: Path, now: dt.datetime) -> DistrictManifest:
    """Take a district into an empty program, whole or not at all, every row with its own number.

    What stands in the database afterward is read back and held against the archive before it stays. Work that had
    not ended is stopped. Raises `ApplicationError`, and changes nothing, for whatever `archive_check` refuses, and
    for a program that holds a district, a person or any of their rows.
    """
    manifest = archive_check(path=path)
    with archive_opened(path) as (archive, _), transaction.atomic():
        _empty_require()
        for table in district_tables():
            _rows_add(archive, table, _values_of(archive, table, table_lines(archive, table.label)))
        _keys_require(archive)
        last_numbers_set(
            {one.model: manifest.tables[one.label].last_number for one in district_tables() if numbered(one.model)}
        )
        district = _one_district(archive)
        _flags_require(archive)
        for table in district_tables():
            _same_require(archive, table, district, manifest)
        jobs_stop_all()
        audit_write(
            actor=None,
            district=district,
            action="district_in",
            row=district,
            changes={"archive": [None, moment_words(manifest.made_at)], "at": [None, moment_words(now)]},
        )
    return manifest


def _migrations() -> frozenset[tuple[str, str]]:
    """Those applied to the database at hand that decide the tables of an archive."""
    apps = {one.model._meta.app_label for one in district_tables()}
    return frozenset(key for key in MigrationLoader(connection).applied_migrations if key[0] in apps)


def _same_tables_require(path: Path, manifest: DistrictManifest) -> None:
    here = _migrations()
    if unknown := sorted(manifest.migrations - here):
        raise ApplicationError(
            f"{path} was made by a newer version of the program (its tables have {len(unknown)} changes that these "
            f"don't, such as {'.'.join(unknown[0])}). Update the program and run manage.py migrate first.",
            code="newer_archive",
        )
    if lacking := sorted(here - manifest.migrations):
        raise ApplicationError(
            f"{path} was made by an older version of the program (its tables lack {len(lacking)} changes, such as "
            f"{'.'.join(lacking[0])}). Take it in with that version, then update the program.",
            code="older_archive",
        )
    if manifest.tables.keys() != {one.label for one in district_tables()}:
        raise ApplicationError(f"{path} doesn't hold the tables of this program.", code="other_tables")


def _empty_require() -> None:
    """Nobody's rows are there: each would keep its number, and numbers stand in many places."""
    found = [
        (one.model._meta.verbose_name_plural, count)
        for one in district_tables()
        if one.model is not Job and (count := every_row(one.model).count())
    ]
    if found:
        listed = ", ".join(f"{count:,} {name}" for name, count in found[:5])
        raise ApplicationError(
            f"This program isn't empty: it holds {listed}{' and more' if len(found) > 5 else ''}. A district is "
            "taken into an empty program: name a new database in DATABASE_URL, run manage.py migrate, then this "
            "again.",
            code="not_empty",
        )


def _values_of(archive: zipfile.ZipFile, table: DistrictTable, lines: Iterable[bytes]) -> Iterator[tuple[Any, ...]]:
    columns = table.columns
    for number, line in enumerate(lines, 1):
        try:
            yield line_read(columns, line)
        except UnreadableLineError as error:
            raise altered(archive, table.label, f"line {number}: {error}") from error


def _rows_add(archive: zipfile.ZipFile, table: DistrictTable, rows: Iterable[tuple[Any, ...]]) -> None:
    """As they are, past what saving sets by itself, such as the moment of saving."""
    quoted = connection.ops.quote_name
    names = ", ".join(quoted(one.column) for one in table.columns)
    places = ", ".join(["%s"] * len(table.columns))
    statement = f"INSERT INTO {quoted(table.model._meta.db_table)} ({names}) VALUES ({places})"  # noqa: S608 -- names of our own tables, quoted
    with connection.cursor() as cursor:
        for some in batched(rows, AT_ONCE):
            prepared = [
                [
                    column.get_db_prep_save(value, connection)
                    for column, value in zip(table.columns, row, strict=True)
                ]
                for row in some
            ]
            try:
                cursor.executemany(statement, prepared)
            except DatabaseError as error:
                raise _refused(archive, table.label, error) from error


def _keys_require(archive: zipfile.ZipFile) -> None:
    try:
        connection.check_constraints()
    except DatabaseError as error:
        raise _refused(archive, "a key leads nowhere", error) from error


def _one_district(archive: zipfile.ZipFile) -> District:
    districts = list(District.objects.all()[:2])
    if len(districts) != 1:
        raise altered(archive, "accounts.District", "it doesn't name one district")
    return districts[0]


def _flags_require(archive: zipfile.ZipFile) -> None:
    """Django grants every right to whom it calls a superuser; this program says so of nobody."""
    if Person.objects.filter(Q(is_superuser=True) | Q(is_staff=True)).exists():
        raise altered(archive, "accounts.Person", "somebody in it has every right, which nobody has here")


def _refused(archive: zipfile.ZipFile, what: str, error: DatabaseError) -> ApplicationError:
    # The first line alone: on PostgreSQL the others hold values.
    first = str(error).partition("\n")[0]
    return ApplicationError(
        f"{archive.filename} can't be taken into this database: {what}: {first}. Nothing was changed.",
        code="refused_rows",
    )


def _same_require(
    archive: zipfile.ZipFile, table: DistrictTable, district: District, manifest: DistrictManifest
) -> None:
    counted = CountedLines()
    for _line in counted.through(lines_of(table, district)):
        pass
    held = manifest.tables[table.label]
    if (counted.rows, counted.sha256) != (held.rows, held.sha256):
        raise altered(archive, table.label, "this database doesn't give back what the archive holds")
