"""The test run itself: tables that are copied, and which tests a kind of run takes."""

import gc
import re
import sqlite3
import tomllib
from contextlib import closing
from pathlib import Path

import django.test
import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from tests.conftest import uses_database
from tests.databases import ROOT, state_of

TABLES = "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="on PostgreSQL the file is not used")
def test_tests_have_the_tables_that_migrations_make(db: None, tables: Path) -> None:
    """In memory as in the file; that models ask for no others is held by `makemigrations --check`."""
    with closing(sqlite3.connect(tables)) as file, connection.cursor() as cursor:
        kept = file.execute(TABLES).fetchall()
        cursor.execute(TABLES)
        assert [tuple(row) for row in cursor.fetchall()] == kept
    assert {"accounts_district", "jobs_job", "django_session"} <= {name for _, name, _ in kept}


def test_tables_that_were_copied_wait_for_no_migration(db: None) -> None:
    """Whatever the kind of database."""
    executor = MigrationExecutor(connection)
    assert executor.loader.applied_migrations
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


@pytest.fixture(scope="module")
def shared() -> object:
    """Something that takes long to make."""
    return object()


def test_tests_that_share_something_meet_in_one_worker(shared: object, request: pytest.FixtureRequest) -> None:
    """xdist, where there are workers, reads the group at the end of a test's id."""
    module, _, test = request.node.nodeid.partition("::")
    has_workers = getattr(request.config.option, "loadgroup", False)
    assert test.partition("@")[2] == (module if has_workers else "")


def test_no_fixture_of_the_run_is_made_for_several_modules_apart() -> None:
    """As it is when they import it: each import is a fixture of its own, with a server or a map of its own."""
    sources = [path.read_text() for path in (ROOT / "tests").rglob("*.py")]
    of_the_run = {name for text in sources for name in re.findall(r'scope="session"\)\ndef (\w+)', text)}
    an_import = re.compile(r"^from [\w.]+ import (\([^)]*\)|.*)", re.MULTILINE)
    lines = [line for text in sources for line in an_import.findall(text)]
    imported = [name for line in lines for name in re.findall(r"\w+", line)]
    assert {"postgres_url", "helsinki_roads", "tables"} <= of_the_run
    assert [name for name in sorted(of_the_run) if imported.count(name) > 1] == []


def test_garbage_is_collected_while_tests_run() -> None:
    """Only what was there before the first of them is left out."""
    assert gc.isenabled()
    assert gc.get_freeze_count() > 0


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


def test_who_asks_for_the_database_uses_it(db: None, request: pytest.FixtureRequest) -> None:
    assert uses_database(request.node)
    assert request.node.get_closest_marker("core") is None


@pytest.mark.django_db
def test_who_is_marked_for_the_database_uses_it(request: pytest.FixtureRequest) -> None:
    assert uses_database(request.node)


class TestWhoIsOfDjangosKind(django.test.TestCase):
    """Hypothesis brings such a class; it has no fixture and no marker."""

    @pytest.fixture(autouse=True)
    def _told(self, request: pytest.FixtureRequest) -> None:
        self.uses = uses_database(request.node)

    def test_it_uses_the_database(self) -> None:
        """As pytest-django has it."""
        assert self.uses


def test_who_asks_for_nothing_uses_none_and_is_core(request: pytest.FixtureRequest) -> None:
    assert not uses_database(request.node)
    assert request.node.get_closest_marker("core") is not None


def test_a_quick_run_leaves_out_every_marker_that_there_is() -> None:
    """Each marker says that a test takes long or needs a service; a new one must not slip into the quick run."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    markers = {line.partition(":")[0] for line in project["tool"]["pytest"]["ini_options"]["markers"]}
    [quick] = re.findall(r'-m "\(core or pages\) and ([^"]*)"', (ROOT / "script" / "test").read_text())
    assert set(quick.split(" and ")) == {f"not {name}" for name in markers - {"core", "pages"}}
