"""The test run itself: tables that are copied."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

from tests.databases import state_of

TABLES = "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="on PostgreSQL each worker migrates for itself")
def test_tests_have_the_tables_that_migrations_make(db: None, tables: Path) -> None:
    """In memory as in the file; that models ask for no others is held by `makemigrations --check`."""
    with closing(sqlite3.connect(tables)) as file, connection.cursor() as cursor:
        kept = file.execute(TABLES).fetchall()
        cursor.execute(TABLES)
        assert [tuple(row) for row in cursor.fetchall()] == kept
    assert {"accounts_district", "jobs_job", "django_session"} <= {name for _, name, _ in kept}


def test_a_changed_migration_asks_for_new_tables(tmp_path: Path) -> None:
    folder = tmp_path / "floor" / "migrations"
    folder.mkdir(parents=True)
    (folder / "0001_initial.py").write_text("one")
    states = [state_of(tmp_path)]
    (folder / "0001_initial.py").write_text("another")
    states.append(state_of(tmp_path))
    (folder / "0002_more.py").write_text("")
    states.append(state_of(tmp_path))
    assert len(set(states)) == 3
    assert state_of(tmp_path) == states[-1]
