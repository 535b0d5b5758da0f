"""Taking a backup and putting one back: what is refused, and what is set right afterward."""

import datetime as dt
import tempfile
from pathlib import Path
from typing import IO, Protocol

from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader

from accounts.errors import ApplicationError
from accounts.models import District
from accounts.services import audit_write
from config.backup.archive import Manifest, backup_write, damaged, database_extract, manifest_read
from config.backup.contents import Contents, moment_words
from config.backup.postgresql import PostgresStore
from config.backup.sqlite import SqliteStore
from jobs.services import jobs_stop_all

ENGINES = {"sqlite": "SQLite (the embedded database)", "postgresql": "PostgreSQL"}


class Store(Protocol):
    """A kind of database. `part` is the name of its file within a backup."""

    part: str

    def fill(self, out: IO[bytes]) -> Contents:
        """Write the database of one moment; its figures."""

    def fault_of(self, file: Path) -> str:
        """What is wrong with such a file; empty if nothing is."""

    def contents(self) -> Contents:
        """Figures of the database at hand."""

    def require_alone(self) -> None:
        """Raise `ApplicationError` while others use the database."""

    def put_back(self, file: Path) -> None:
        """Make the database what the file holds, all of it or nothing, while nobody else uses it."""


def store_at_hand() -> Store:
    """The database of the settings."""
    if connection.vendor == "postgresql":
        return PostgresStore()
    return SqliteStore(Path(connection.settings_dict["NAME"]))


def backup_make(*, path: Path, now: dt.datetime) -> tuple[Path, Manifest]:
    """Write a backup to a file, or to a new one in a folder, while the program runs.

    Raises `ApplicationError` where the file is there already or the database can't be read.
    """
    file = path / f"minutes-and-miles-{now:%Y-%m-%d-%H%M%S}.zip" if path.is_dir() else path
    store = store_at_hand()
    return file, backup_write(file, connection.vendor, store.part, store.fill)


def backup_check(*, path: Path) -> Manifest:
    """Read a backup to its end and hold it against this program and its database.

    Raises `ApplicationError` for what isn't a backup, a damaged one, one of another kind of database, and one
    that a newer version of the program made.
    """
    manifest = manifest_read(path)
    _kind_require(path, manifest)
    _known_require(path, manifest)
    with tempfile.TemporaryDirectory(prefix="check-") as folder:
        _whole_require(path, store_at_hand(), database_extract(path, manifest, Path(folder)))
    return manifest


def backup_restore(*, path: Path, replace: bool, now: dt.datetime) -> tuple[Manifest, Path | None]:
    """Put a backup back; the manifest, and the backup that was made of what it replaced, if anything was.

    Sessions end, unfinished jobs stop, and a backup of an older version is migrated. Raises `ApplicationError`, and
    changes nothing, for whatever `backup_check` refuses, for a database that holds a district unless `replace`, and
    for one that others use.
    """
    manifest = backup_check(path=path)
    store = store_at_hand()
    held = store.contents()
    if not held.is_empty and not replace:
        raise ApplicationError(
            f"This database holds {held.words}. All of it would be replaced. Add --replace if that is meant; it is "
            "backed up first, beside the file that is restored.",
            code="holds_data",
        )
    connection.close()
    store.require_alone()
    before = None
    if not held.is_empty:
        before, _manifest = backup_make(path=path.with_name(f"before-restore-{now:%Y-%m-%d-%H%M%S}.zip"), now=now)
    with tempfile.TemporaryDirectory(prefix="restore-") as folder:
        file = database_extract(path, manifest, Path(folder))
        connection.close()
        store.put_back(file)
    _set_right(manifest)
    return manifest, before


def _kind_require(path: Path, manifest: Manifest) -> None:
    if manifest.engine != connection.vendor:
        theirs, ours = (ENGINES.get(name, name) for name in (manifest.engine, connection.vendor))
        raise ApplicationError(
            f"{path} is a backup of {theirs}, and DATABASE_URL names {ours}. Restore it where that kind of "
            "database is used; between the two a district goes by manage.py district_out and district_in.",
            code="another_engine",
        )


def _known_require(path: Path, manifest: Manifest) -> None:
    """Every migration of the backup is known here. Those that it lacks are applied after the restore."""
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    if unknown := sorted(manifest.contents.migrations - known):
        first = ".".join(unknown[0])
        raise ApplicationError(
            f"{path} was made by a newer version of the program (its tables have {len(unknown)} changes that this "
            f"one doesn't know, such as {first}). Update the program, then restore.",
            code="newer_backup",
        )


def _whole_require(path: Path, store: Store, file: Path) -> None:
    if fault := store.fault_of(file):
        raise damaged(path, fault)


def _set_right(manifest: Manifest) -> None:
    """Bring an older backup up to date, and end what was under way when it was made.

    Whoever has signed out or lost access since would be signed in again, and work from back then begin again.
    """
    call_command("migrate", verbosity=0, interactive=False)
    with transaction.atomic():
        Session.objects.all().delete()
        jobs_stop_all()
        for district in District.objects.all():
            audit_write(
                actor=None,
                district=district,
                action="backup_restore",
                row=district,
                changes={"backup": [None, moment_words(manifest.made_at)]},
            )
