"""Everybody's week in districts of many teachers: work and seconds against teachers and workers, and sameness.

Run: ``python -m benchmarks.plan_district`` (``--teachers 10 25 50``, ``--workers 1 2 8`` for workers without Redis,
``--celery 1 2 8`` for those of Celery with Redis and PostgreSQL, ``--kill`` for one of two workers of Celery that
is killed on the way, ``--search`` for other seconds of work a teacher, ``--results FILE`` to keep what was measured
and add to what another run kept there, ``--plot`` to draw all of it). The baseline of each district is the same run
in one process, turn after turn, whose weeks every other run's are compared with, byte for byte. Seconds on the
clock hang on how many processors are free; so what is drawn as seconds is worked out from the processor seconds of
each turn: the order of turns, so many workers, a processor for each.
"""

import argparse
import heapq
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import Any

import matplotlib as mpl

mpl.use("svg")

from matplotlib import pyplot as plt

from benchmarks.databases import postgres, sqlite

ROOT = Path(__file__).resolve().parents[1]
PLOT = ROOT / "docs" / "plan-district.svg"
GROUND = "benchmarks.plan_district_ground"
AT_ONCE = 8
SCHEDULED = (1, 2, 8)
"""Workers for which seconds are worked out and drawn."""
KILLED_AFTER = 20.0
"""Seconds on the clock after which a worker is killed."""


def main() -> None:
    """Measure, print, draw."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--teachers", type=int, nargs="*", default=[10, 25, 50])
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2, 8])
    parser.add_argument("--celery", type=int, nargs="*", default=[])
    parser.add_argument("--search", default="10")
    parser.add_argument("--kill", action="store_true")
    parser.add_argument("--results", type=Path)
    parser.add_argument("--plot", action="store_true")
    asked = parser.parse_args()
    found: dict[str, Any] = {}
    if asked.results is not None and asked.results.exists():
        found = json.loads(asked.results.read_text(encoding="utf-8"))
    for teachers in asked.teachers:
        found[str(teachers)] = _district(teachers, asked)
        if asked.results is not None:
            asked.results.write_text(json.dumps(found), encoding="utf-8")
    if asked.plot:
        _draw({int(teachers): one for teachers, one in found.items()})


def _district(teachers: int, asked: argparse.Namespace) -> dict[str, Any]:
    with sqlite() as url:
        environment = _environment(url)
        _ground(environment, "fill", str(teachers))
        alone = _ground(environment, "alone", asked.search)
        works = [work for _, _, work in alone["turns"]]
        print(
            f"{teachers} teachers: {alone['sessions']} sessions, {alone['unplaced']} minutes not placed, "
            f"{alone['driving']} minutes of driving; asking {alone['asking']:.2f} s; turns "
            f"{min(works):.1f} to {max(works):.1f} s, together {sum(works):.0f} s of a processor",
            flush=True,
        )
        for workers in SCHEDULED:
            told = f"  a processor for each of {workers}: {scheduled(alone['turns'], workers):.0f} s"
            print(told, flush=True)
        alone["beside"] = {str(count): _beside(environment, count, alone) for count in asked.workers}
    alone["celery"] = {str(count): _by_celery(teachers, count, alone) for count in asked.celery}
    if asked.kill:
        _by_celery(teachers, 2, alone, kill=True)
    return alone


def scheduled(turns: Sequence[Sequence[Any]], workers: int) -> float:
    """Seconds until the last turn ends, if each worker has a processor: whoever is free takes the next that may."""
    left, ended, running, now = list(turns), set[int](), list[tuple[float, int]](), 0.0
    while left or running:
        ready = [one for one in left if ended.issuperset(one[1])]
        begun = ready[: min(workers, AT_ONCE) - len(running)]
        for teacher, _, work in begun:
            heapq.heappush(running, (now + work, teacher))
        left = [one for one in left if one not in begun]
        now, teacher = heapq.heappop(running)
        ended.add(teacher)
    return now


def _environment(url: str, **more: str) -> dict[str, str]:
    given = {name: text for name, text in os.environ.items() if name != "REDIS_URL"}
    return {**given, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings", "LOG_LEVEL": "WARNING",
            "JOBS_LEASE_SECONDS": "10", **more}  # fmt: skip


def _ground(environment: dict[str, str], *words: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", GROUND, *words],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        sys.exit(done.stderr)
    return dict(json.loads(done.stdout or "{}"))


def _beside(environment: dict[str, str], workers: int, alone: dict[str, Any]) -> float:
    """The run by so many worker processes; the processor seconds of all of them."""
    words = [sys.executable, str(ROOT / "manage.py"), "work"]
    with _working([words] * workers, environment) as processes:
        found = _ground(environment, "watch", alone["search"])
    return _told(f"{_workers(workers)}, no Redis, SQLite", found, alone, processes)


def _by_celery(teachers: int, workers: int, alone: dict[str, Any], *, kill: bool = False) -> float:
    """The same with Celery, Redis and PostgreSQL. ``kill``: each worker a program of its own, one killed."""
    servers = import_module("tests.servers")
    with postgres() as url, tempfile.TemporaryDirectory() as folder:
        redis = servers.RedisServer(servers.redis_program(), Path(folder))
        redis.start()
        try:
            environment = _environment(url, REDIS_URL=redis.url)
            _ground(environment, "fill", str(teachers))
            words = [sys.executable, "-m", "celery", "-A", "config", "worker", "--loglevel", "ERROR",
                     "--concurrency", str(1 if kill else workers)]  # fmt: skip
            beat = ["--beat", "--schedule", f"{folder}/beat"]
            each = [[*words, "-n", f"w{number}@here", *([] if number else beat)] for number in range(workers)]
            with _working(each if kill else each[:1], environment) as processes:
                found = _watched_and_killed(environment, alone["search"], processes[-1] if kill else None)
            name = f"Celery, {_workers(workers)}, Redis and PostgreSQL{', one killed' if kill else ''}"
            return _told(name, found, alone, processes)
        finally:
            redis.stop()


def _watched_and_killed(
    environment: dict[str, str], search: str, victim: subprocess.Popen[bytes] | None
) -> dict[str, Any]:
    """Ask, wait for the end, and on the way kill one worker with what it started, if one is named."""
    words = [sys.executable, "-m", GROUND, "watch", search]
    watching = subprocess.Popen(words, env=environment, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    if victim is not None:
        time.sleep(KILLED_AFTER)
        os.killpg(victim.pid, signal.SIGKILL)
    told, _ = watching.communicate()
    return dict(json.loads(told))


def _begun(words: Sequence[str], environment: dict[str, str]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(words, env=environment, cwd=ROOT, stdout=subprocess.DEVNULL, start_new_session=True)


@contextmanager
def _working(each: Sequence[Sequence[str]], environment: dict[str, str]) -> Iterator[list[subprocess.Popen[bytes]]]:
    processes = [_begun(words, environment) for words in each]
    try:
        yield processes
    finally:
        for process in processes:
            # By its number: asking whether it is over, as `send_signal` does, would take what `wait4` tells later.
            with suppress(ProcessLookupError):
                os.kill(process.pid, signal.SIGTERM)


def _told(
    name: str, found: dict[str, Any], alone: dict[str, Any], processes: Sequence[subprocess.Popen[bytes]]
) -> float:
    work, memory = 0.0, 0.0
    for process in processes:
        _, _, usage = os.wait4(process.pid, 0)
        work += usage.ru_utime + usage.ru_stime
        memory = max(memory, usage.ru_maxrss / 1024)
    other = [who for who, week in alone["weeks"].items() if found["weeks"].get(who) != week]
    print(
        f"  {name}: {found['seconds']:.0f} s on the clock, {work:.0f} s of processors (starting too), at most "
        f"{memory:.0f} MB a process, {found['again']} jobs begun again; "
        + (f"OTHER WEEKS: {', '.join(other)}" if other else "the same weeks, byte for byte"),
        flush=True,
    )
    return work


def _draw(found: dict[int, dict[str, Any]]) -> None:
    mpl.rcParams["svg.hashsalt"] = "plan-district"
    figure, (left, right) = plt.subplots(1, 2, figsize=(9, 3.5), layout="constrained")
    teachers = sorted(found)
    one_process = [sum(one[2] for one in found[n]["turns"]) for n in teachers]
    left.plot(teachers, one_process, marker="o", label="one process")
    for count in SCHEDULED:
        measured = {n: work for n in teachers if (work := found[n]["celery"].get(str(count))) is not None}
        left.plot([*measured], [*measured.values()], marker="o", label=f"Celery, {_workers(count)}")
        seconds = [scheduled(found[n]["turns"], count) for n in teachers]
        right.plot(teachers, seconds, marker="o", label=_workers(count))
    left.set_ylabel("seconds of processors, all together")
    right.set_ylabel("seconds, with a processor each")
    for axis in (left, right):
        axis.set_xlabel("teachers")
        axis.set_ylim(bottom=0)
        axis.grid(visible=True, alpha=0.3)
        axis.legend()
    figure.savefig(PLOT, metadata={"Date": None})


def _workers(count: int) -> str:
    return "1 worker" if count == 1 else f"{count} workers"


if __name__ == "__main__":
    main()
