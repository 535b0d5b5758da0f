"""Faults under what people send: databases, disks, one sending many times, backups (``benchmarks.faults``)."""

import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg

from benchmarks.faults_ground import (
    Places,
    Row,
    Sender,
    Told,
    like,
    row_of,
    run_module,
    serve,
    signed_in,
    stored,
)
from tests.sides import Side

WRITERS, EACH, RESTARTS = 4, 60, 3


def restarted(places: Places, *, keyed: bool) -> Row:
    """PostgreSQL goes down as with its machine, and comes back, while four people log."""
    with places.postgres() as (side, cluster):
        line = run_module(side, "school", "0")
        visitor = signed_in(serve(side))
        told = Told()

        def restarts() -> None:
            for number in range(RESTARTS):
                for _ in range(WRITERS * EACH // (RESTARTS + 1)):
                    told.begun.acquire()
                cluster.stop("immediate" if number % 2 == 0 else "fast")
                cluster.start()

        people = [like(visitor) for _ in range(WRITERS)]
        Sender(line, told, keyed=keyed).send_many(people, EACH, restarts)
        how = "with a key" if keyed else "without a key"
        name = f"PostgreSQL restarted {RESTARTS} times under write load, sent {how}"
        return row_of(name, told.sent, told.saved, stored(side), told.saw)


@contextmanager
def _small_disk(places: Places) -> Iterator[Path]:
    folder = places.home / "disk"
    folder.mkdir()
    if os.geteuid() != 0:
        sys.exit("A small disk can be mounted by root alone.")
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", folder], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", folder], check=True)


def full_disk(places: Places) -> Row:
    """Entries until the disk takes no more, then some more; there is room again, and they are sent again."""
    with _small_disk(places) as folder, places.sqlite(folder) as side:
        line = run_module(side, "school", "0")
        visitor = signed_in(serve(side))
        told = Told()
        sender = Sender(line, told, keyed=True, note="Parachute and scarves. " * 20)
        sender.send_many([like(visitor)], 20)
        with suppress(OSError), (folder / "filler").open("wb", buffering=0) as filler:
            while True:
                filler.write(b"x" * 4096)
        sender.send_many([like(visitor)], 60)
        (folder / "filler").unlink()
        for name in list(told.unsaved):
            sender.send(visitor, name)
        return row_of("Disk full, then room again and sent again", 80, told.saved, stored(side), told.saw)


def many_writers(places: Places) -> Row:
    """Twenty people log at once, through two web servers, into one file."""
    with places.sqlite() as side:
        line = run_module(side, "school", "0")
        one = signed_in(serve(side, WEB_THREADS="10"))
        other = serve(side, WEB_THREADS="10")
        people = [like(one, (one, other)[number % 2].site) for number in range(20)]
        told = Told()
        Sender(line, told, keyed=False).send_many(people, 25)
        return row_of("20 writers on one SQLite file", 500, told.saved, stored(side), told.saw)


def _one_entry(side: Side) -> tuple[Told, list[str]]:
    line = run_module(side, "school", "0")
    visitor = signed_in(serve(side))
    told, name = Told(), str(uuid.uuid4())
    sender = Sender(line, told, keyed=True)

    def sends(_: int) -> None:
        mine = like(visitor)
        for _again in range(125):
            sender.send(mine, name)

    with ThreadPoolExecutor(8) as several:
        list(several.map(sends, range(8)))
    return told, stored(side)


def one_entry_sqlite(places: Places) -> Row:
    """The same entry 1,000 times over eight connections."""
    with places.sqlite() as side:
        told, found = _one_entry(side)
        return row_of("The same entry 1,000 times over 8 connections, SQLite", 1000, told.saved, found, told.saw)


def one_entry_postgres(places: Places) -> Row:
    """The same on PostgreSQL."""
    with places.postgres() as (side, _cluster):
        told, found = _one_entry(side)
        return row_of(
            "The same entry 1,000 times over 8 connections, PostgreSQL", 1000, told.saved, found, told.saw
        )


def _publishers(side: Side) -> tuple[list[str], int]:
    module = "tests.schedule.weeks.planning.side_publish"
    side.together(module, "prepare", 1)
    told = side.together(module, "publish", 2)
    ((stands,),) = side.rows("SELECT COUNT(*) FROM schedule_weekplan WHERE status = 'published'")
    return told, int(stands)


def publishers(places: Places) -> Row:
    """Two teachers publish one student into two rooms at one moment, three times on each database."""
    told: list[str] = []
    found = 0
    for _ in range(3):
        with places.sqlite() as side:
            said, stands = _publishers(side)
            told, found = told + said, found + stands
        with places.postgres() as (side, _cluster):
            said, stands = _publishers(side)
            told, found = told + said, found + stands
    good = sum(one == "In force" for one in told)
    refused = sorted({one.partition(": ")[2] for one in told if one != "In force"})
    saw = f"{good} times In force; {len(told) - good} times “{' / '.join(refused)}”"
    doubled = max(0, found - good)
    return Row("Two publishers at once, 6 times", len(told), good, found, max(0, good - found), doubled, saw)


def backup_sqlite(places: Places) -> Row:
    """A backup while four people log, put back into an empty place."""
    with places.sqlite() as side:
        empty = Side(f"sqlite:///{side.home / 'empty.sqlite3'}", side.home)
        return _backup("SQLite", side, empty)


def backup_postgres(places: Places) -> Row:
    """The same on PostgreSQL."""
    with places.postgres() as (side, cluster):
        with psycopg.connect(cluster.url, autocommit=True) as server:
            server.execute(b"CREATE DATABASE empty")
        return _backup("PostgreSQL", side, Side(f"{cluster.url.rpartition('/')[0]}/empty", side.home))


def _backup(kind: str, side: Side, empty: Side) -> Row:
    """Acknowledged are the entries that were saved when the backup began."""
    line = run_module(side, "school", "0")
    visitor = signed_in(serve(side))
    told, before = Told(), list[str]()

    def back_up() -> None:
        for _ in range(WRITERS * EACH // 3):
            told.begun.acquire()
        before.extend(told.saved)
        side.manage("backup", "backup.zip")

    Sender(line, told, keyed=True).send_many([like(visitor) for _ in range(WRITERS)], EACH, back_up)
    empty.manage("restore", "backup.zip")
    whole = row_of("", told.sent, told.saved, stored(side), "")
    saw = f"{told.saw} in all, of which the running database lost {whole.lost}"
    return row_of(f"Backup amid writes, restored, {kind}", len(before), before, stored(empty), saw)
