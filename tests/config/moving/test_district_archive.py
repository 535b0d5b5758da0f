"""A district out of one database and into an empty one of either kind: with equal figures, or nothing at all."""

import hashlib
import json
import shutil
import sqlite3
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest

from config.moving.belonging import district_tables
from tests.config.moving.district_figures import DISTRICT
from tests.databases import ROOT, migrated_template
from tests.sides import WAIT_SECONDS, Side, wait_for

pytestmark = pytest.mark.long
WRITTEN_SINCE = {"accounts.AuditEntry", "jobs.Job"}
"""Tables in which taking in writes: that it was done, and work that is stopped."""


def printed(side: Side, module: str, *words: str) -> str:
    """What a module of ours prints at work on a side."""
    command = [sys.executable, "-m", module, *words]
    done = subprocess.run(command, env=side.environment(), cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def figures(side: Side, address: str) -> dict[str, list[Any]]:
    """What the district's people see."""
    told: dict[str, list[Any]] = json.loads(printed(side, "tests.config.moving.district_figures", address))
    return told


def refused(side: Side, *words: str | Path) -> str:
    """What a command says that doesn't do what was asked."""
    command = [sys.executable, ROOT / "manage.py", *words]
    done = subprocess.run(
        command, env=side.environment(), cwd=side.home, capture_output=True, text=True, check=False
    )
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    return done.stderr


def counts(side: Side) -> dict[str, int]:
    """Rows of every table that an archive holds, past all of our own code."""
    return {
        one.label: side.rows(f'SELECT COUNT(*) FROM "{one.model._meta.db_table}"')[0][0]  # noqa: S608 -- our own tables
        for one in district_tables()
    }


def parts(path: Path) -> dict[str, bytes]:
    """The files of an archive, as any ZIP program takes them out."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def written_anew(source: Path, target: Path, change: Callable[[dict[str, bytes]], Mapping[str, bytes]]) -> str:
    """The archive with other files in it; the name of the new one."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in change(parts(source)).items():
            archive.writestr(name, content)
    return target.name


@pytest.fixture(scope="module")
def home(tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented district with a term behind it, a calendar feed, and its archive; its address in a file."""
    found = tmp_path_factory.mktemp("district")
    shutil.copy(tables, found / "source.sqlite3")
    side = Side(f"sqlite:///{found / 'source.sqlite3'}", found)
    side.manage("load_demo")
    side.manage("load_past")
    (found / "address").write_text(printed(side, "tests.config.moving.district_figures", "feed"))
    figures(side, (found / "address").read_text())
    side.manage("district_out", "district.zip")
    return found


@pytest.fixture
def source(home: Path) -> Side:
    """The district's own database."""
    return Side(f"sqlite:///{home / 'source.sqlite3'}", home)


@pytest.fixture
def new_file(home: Path, tables: Path, tmp_path: Path) -> Side:
    """An empty program with a file."""
    shutil.copy(tables, tmp_path / "new.sqlite3")
    shutil.copy(home / "district.zip", tmp_path)
    return Side(f"sqlite:///{tmp_path / 'new.sqlite3'}", tmp_path)


@pytest.fixture
def new_server(home: Path, postgres_url: str, tables_kept: Path, tmp_path: Path) -> Iterator[Side]:
    """An empty program on PostgreSQL."""
    template, name = migrated_template(tables_kept, postgres_url), f"moved_{time.monotonic_ns()}"
    shutil.copy(home / "district.zip", tmp_path)
    with psycopg.connect(postgres_url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name} TEMPLATE {template}".encode())
        yield Side(f"{postgres_url.rpartition('/')[0]}/{name}", tmp_path)
        server.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())


@pytest.fixture(params=["new_file", pytest.param("new_server", marks=pytest.mark.postgres)])
def empty(request: pytest.FixtureRequest) -> Side:
    """An empty program of each kind in turn."""
    found = request.getfixturevalue(request.param)
    assert isinstance(found, Side)
    return found


def test_the_archive_holds_every_row_of_every_table(home: Path, source: Side) -> None:
    """One district, so all that the database holds; its owner alone can read it."""
    file = home / "district.zip"
    held = parts(file)
    with closing(sqlite3.connect(home / "source.sqlite3")) as database:
        people = [name for (name,) in database.execute("SELECT username FROM accounts_person ORDER BY id")]
    told = [json.loads(line) for line in held["tables/accounts.Person.jsonl"].splitlines()]
    assert [one["username"] for one in told] == people
    assert all(one["password"] for one in told)
    found = {one.label: held[f"tables/{one.label}.jsonl"].count(b"\n") for one in district_tables()}
    # Taking it out is on record, in the database alone.
    found["accounts.AuditEntry"] += 1
    assert found == counts(source)
    assert found["caseload.DeliveryEntry"] > 100
    assert file.stat().st_mode & 0o077 == 0


def test_an_empty_program_has_equal_figures_afterward(home: Path, source: Side, empty: Side) -> None:
    """Minutes, weeks in force, miles and a calendar's bytes; and taken out again it is the same, byte for byte."""
    address = (home / "address").read_text()
    said = " ".join(empty.manage("district_in", "district.zip"))
    assert f"holds {DISTRICT}" in said
    before, after = figures(source, address), figures(empty, address)
    assert after == before
    assert all(len(before[name]) > 9 for name in ("minutes", "sessions", "claims"))
    assert before["feed"][0] == "200"
    empty.manage("district_out", "again.zip")
    first, again = parts(empty.home / "district.zip"), parts(empty.home / "again.zip")
    names = {f"tables/{one.label}.jsonl" for one in district_tables() if one.label not in WRITTEN_SINCE}
    assert {name for name in names if first[name] != again[name]} == set()


def test_new_rows_get_numbers_that_none_had(tables: Path, tmp_path: Path, empty: Side) -> None:
    """Also none of a row that was deleted: what changed in it is kept by its number."""
    shutil.copy(tables, tmp_path / "few.sqlite3")
    side = Side(f"sqlite:///{tmp_path / 'few.sqlite3'}", tmp_path)
    side.manage("start_district", "Fallow County", "--coordinator", "odell")
    with closing(sqlite3.connect(tmp_path / "few.sqlite3")) as database:
        # As the creation and deletion of 70 leave it (https://www.sqlite.org/autoinc.html).
        database.execute("UPDATE sqlite_sequence SET seq = 70 WHERE name = 'accounts_district'")
        database.commit()
    side.manage("district_out", "few.zip")
    empty.manage("district_in", str(tmp_path / "few.zip"))
    empty.manage("start_district", "Later County", "--coordinator", "later")
    assert empty.rows("SELECT id FROM accounts_district ORDER BY id")[1][0] > 70


def test_of_several_districts_one_goes(home: Path, tmp_path: Path, new_file: Side) -> None:
    """Which one must be said; nothing of the other is in it."""
    shutil.copy(home / "source.sqlite3", tmp_path / "two.sqlite3")
    two = Side(f"sqlite:///{tmp_path / 'two.sqlite3'}", tmp_path)
    two.manage("start_district", "Fallow County", "--coordinator", "odell")
    said = refused(two, "district_out", "one.zip")
    assert "Say which district" in said
    assert "Fallow County" in said
    assert not (tmp_path / "one.zip").exists()
    two.manage("district_out", "one.zip", "--district", DISTRICT)
    assert b"odell" not in b"".join(parts(tmp_path / "one.zip").values())
    new_file.manage("district_in", str(tmp_path / "one.zip"))
    assert new_file.rows("SELECT name FROM accounts_district") == [(DISTRICT,)]


def test_only_an_empty_program_takes_one_in(home: Path, empty: Side) -> None:
    """Numbers of rows stand in many places, so every row keeps its own."""
    empty.manage("start_district", "Fallow County", "--coordinator", "odell")
    before = counts(empty)
    said = refused(empty, "district_in", "district.zip")
    assert "isn't empty" in said
    assert "DATABASE_URL" in said
    assert counts(empty) == before


def _edited(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], Mapping[str, bytes]]:
    def change(held: dict[str, bytes]) -> Mapping[str, bytes]:
        assert old in held[name]
        return {**held, name: held[name].replace(old, new, 1)}

    return change


def _with_its_digest(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], Mapping[str, bytes]]:
    """As somebody edits who knows of the manifest."""

    def change(held: dict[str, bytes]) -> Mapping[str, bytes]:
        found = {**held, **_edited(name, old, new)(held)}
        manifest = json.loads(found["manifest.json"])
        label = name.removeprefix("tables/").removesuffix(".jsonl")
        manifest["tables"][label]["sha256"] = hashlib.sha256(found[name]).hexdigest()
        return {**found, "manifest.json": json.dumps(manifest).encode()}

    return change


def _without(name: str) -> Callable[[dict[str, bytes]], Mapping[str, bytes]]:
    return lambda held: {one: content for one, content in held.items() if one != name}


def _twice(name: str) -> Callable[[dict[str, bytes]], Mapping[str, bytes]]:
    """The first row again, with a number and a name of its own, as somebody writes it who knows of the manifest."""

    def change(held: dict[str, bytes]) -> Mapping[str, bytes]:
        row = json.loads(held[name].splitlines()[0])
        other = json.dumps({**row, "id": 99, "name": "Fallow County"}, separators=(",", ":")).encode()
        found = {**held, name: held[name] + other + b"\n"}
        manifest = json.loads(found["manifest.json"])
        told = manifest["tables"][name.removeprefix("tables/").removesuffix(".jsonl")]
        told["rows"] += 1
        told["sha256"] = hashlib.sha256(found[name]).hexdigest()
        return {**found, "manifest.json": json.dumps(manifest).encode()}

    return change


STUDENTS, PEOPLE = "tables/caseload.Student.jsonl", "tables/accounts.Person.jsonl"
DAMAGES = {
    "a row edited": (_edited(STUDENTS, b'"grade":"', b'"grade":"1'), "rows aren't those that were written"),
    "a row that is no JSON": (_edited(STUDENTS, b"{", b"["), "it isn't JSON"),
    "a value of another kind": (_edited(PEOPLE, b'"is_active":true', b'"is_active":"often"'), "is_active"),
    "a table gone": (_without(STUDENTS), "its file is missing or damaged"),
    "no manifest": (_without("manifest.json"), "isn't a district's archive"),
    "of another version": (_edited("manifest.json", b'"0001_initial"', b'"9999_later"'), "newer version"),
    "a key that leads nowhere": (
        _with_its_digest(STUDENTS, b'"building_id":', b'"building_id":99'), "can't be taken into this database",
    ),
    "somebody with every right": (
        _with_its_digest(PEOPLE, b'"is_superuser":false', b'"is_superuser":true'), "somebody in it has every right",
    ),
    "two districts": (_twice("tables/accounts.District.jsonl"), "it doesn't name one district"),
    "the same name twice": (
        _with_its_digest(PEOPLE, b'"username":"coordinator"', b'"username":"teacher"'), "can't be taken into",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", DAMAGES)
def test_what_was_altered_is_refused_in_words(name: str, home: Path, new_file: Side) -> None:
    """By table and line, and nothing is in the database afterward."""
    change, words = DAMAGES[name]
    said = refused(
        new_file, "district_in", written_anew(home / "district.zip", new_file.home / "altered.zip", change)
    )
    assert words in " ".join(said.split())
    assert set(counts(new_file).values()) == {0}


def test_a_part_of_an_archive_is_refused(home: Path, new_file: Side) -> None:
    """Cut at its end, in its middle, or with other bytes within; and what is no archive at all."""
    content = (home / "district.zip").read_bytes()
    middle = len(content) // 2
    faults = [content[:-10], content[:middle], content[:middle] + b"\0" * 64 + content[middle + 64 :], b"PK", b""]
    for fault in faults:
        (new_file.home / "part.zip").write_bytes(fault)
        assert "part.zip" in refused(new_file, "district_in", "part.zip")
        assert "part.zip" in refused(new_file, "district_in", "part.zip", "--check")
    assert "There is no file" in refused(new_file, "district_in", "none.zip")
    assert set(counts(new_file).values()) == {0}


def test_a_backup_and_an_archive_are_told_apart(home: Path, source: Side, new_file: Side) -> None:
    source.manage("backup", str(new_file.home / "backup.zip"))
    assert "manage.py restore puts it back" in refused(new_file, "district_in", "backup.zip")
    assert "isn't a backup" in refused(new_file, "restore", "district.zip")


def test_checking_changes_nothing(new_file: Side) -> None:
    assert "whole" in new_file.manage("district_in", "district.zip", "--check")
    assert set(counts(new_file).values()) == {0}


def test_a_fault_in_the_middle_leaves_nothing(empty: Side) -> None:
    """A table that takes no row, after half of the others have theirs."""
    on_file = "CREATE TRIGGER full BEFORE INSERT ON schedule_weekplan BEGIN SELECT RAISE(ABORT, 'no room'); END"
    function = "CREATE FUNCTION full() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE 'no room'; END $$"
    on_server = "CREATE TRIGGER full BEFORE INSERT ON schedule_weekplan EXECUTE FUNCTION full()"
    if empty.url.startswith("sqlite"):
        with closing(sqlite3.connect(empty.url.removeprefix("sqlite:///"))) as database:
            database.execute(on_file)
    else:
        with psycopg.connect(empty.url) as server:
            server.execute(function.replace("full", "no_room"))
            server.execute(on_server.replace("full", "no_room"))
    said = refused(empty, "district_in", "district.zip")
    assert "schedule.WeekPlan: no room" in said
    assert set(counts(empty).values()) == {0}


@pytest.mark.postgres
def test_who_is_killed_in_the_middle_leaves_nothing(new_server: Side) -> None:
    """It waits for a table that another keeps locked, with half of the others filled; then it can be done again."""
    waits = "SELECT 1 FROM pg_locks WHERE NOT granted"
    with psycopg.connect(new_server.url) as other:
        other.execute("LOCK TABLE schedule_weekplan IN SHARE MODE")
        process = new_server.start(ROOT / "manage.py", "district_in", "district.zip")
        wait_for(lambda: new_server.rows(waits), "the locked table")
        new_server.kill(process)
    wait_for(lambda: not new_server.rows(waits), "the server to notice")
    assert set(counts(new_server).values()) == {0}
    new_server.manage("district_in", "district.zip")


def test_a_killed_process_leaves_nothing_in_a_file(new_file: Side) -> None:
    """Killed while it has the database to itself, at a row that takes minutes."""
    path = new_file.url.removeprefix("sqlite:///")
    slow = (
        "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n WHERE x < 4000000000) SELECT MAX(x) FROM n"
    )
    with closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as database:
        database.execute(f"CREATE TRIGGER slow BEFORE INSERT ON schedule_weekplan BEGIN {slow}; END")
        process = new_file.start(ROOT / "manage.py", "district_in", "district.zip")

        def is_kept() -> bool:
            try:
                database.execute("BEGIN IMMEDIATE")
                database.execute("ROLLBACK")
            except sqlite3.OperationalError:
                return True
            return False

        wait_for(is_kept, "the transaction")
        time.sleep(1)
        assert process.poll() is None
        new_file.kill(process)
        database.execute("DROP TRIGGER slow")
    assert set(counts(new_file).values()) == {0}
    new_file.manage("district_in", "district.zip")


def test_a_killed_process_leaves_no_half_of_an_archive(home: Path, source: Side) -> None:
    """What is under its name is whole: it is renamed at the end; what is left of another try is written over."""
    (home / "later.zip.part").write_bytes(b"half of it")
    source.manage("district_out", "later.zip")
    assert not (home / "later.zip.part").exists()
    assert "already exists" in refused(source, "district_out", "later.zip")
    source.manage("district_in", "later.zip", "--check")


def test_nobody_waits_while_a_district_is_taken_out(home: Path, tmp_path: Path) -> None:
    """It reads beside somebody who writes (https://www.sqlite.org/wal.html); only its entry in the record waits."""
    shutil.copy(home / "source.sqlite3", tmp_path / "busy.sqlite3")
    busy = Side(f"sqlite:///{tmp_path / 'busy.sqlite3'}", tmp_path)
    with closing(sqlite3.connect(tmp_path / "busy.sqlite3", isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode=WAL")
        database.execute("BEGIN IMMEDIATE")
        database.execute("UPDATE accounts_person SET last_name = 'Unsaved'")
        process = busy.start(ROOT / "manage.py", "district_out", "busy.zip")
        wait_for((tmp_path / "busy.zip").exists, "the archive")
        database.execute("ROLLBACK")
    assert process.wait(WAIT_SECONDS) == 0
    assert b"Unsaved" not in b"".join(parts(tmp_path / "busy.zip").values())
