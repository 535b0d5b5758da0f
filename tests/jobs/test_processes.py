"""Several worker processes on one database, and workers that are killed in the middle of a job."""

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.databases import ROOT
from tests.services import RedisServer, free_port
from tests.sides import WAIT_SECONDS, Side, wait_for

MANAGE = ROOT / "manage.py"


def _run_together(side: Side, count: int, *words: str) -> list[list[str]]:
    """Start `count` processes that begin at the same moment; the words that each printed."""
    at = str(time.time() + 3 + count)
    processes = [side.start(MANAGE, *words, "--at", at) for _ in range(count)]
    codes = [process.wait(WAIT_SECONDS) for process in processes]
    printed = [(side.home / f"out-{index}").read_text() for index in range(count)]
    assert codes == [0] * count, "\n".join(printed)
    return [text.split() for text in printed]


def test_two_workers_at_once_never_get_the_same_job(side: Side) -> None:
    """Sixty jobs, two workers that claim as fast as they can: each job goes to one of them."""
    added = side.manage("side", "add", "--count", "60")
    one, other = _run_together(side, 2, "side", "claim")
    assert sorted(one + other) == sorted(added)
    assert side.jobs() == [("running", 1)] * 60


def test_eight_processes_add_and_work_without_a_lock_error(side: Side) -> None:
    """Eight processes, twelve jobs each, added, claimed, reported and done: every effect is there once."""
    printed = _run_together(side, 8, "side", "mix", "--count", "12")
    assert printed == [[]] * 8, "a process logged a warning"
    effects = side.effects()
    done = [state for state, _attempts in side.jobs() if state == "done"]
    assert len(side.jobs()) == 96
    assert len(effects) == len(set(effects)) == len(done)
    # What one process left over (it added, another had nothing to take), the next worker does.
    worker = side.start(MANAGE, "work")
    wait_for(side.is_over, "the jobs that were left")
    assert len(set(side.effects())) == len(side.effects()) == 96
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(WAIT_SECONDS) == 0


def _start_serving(side: Side) -> subprocess.Popen[bytes]:
    """The web process, which starts a worker beside it."""
    address = f"127.0.0.1:{free_port()}"
    return side.start(MANAGE, "runserver", "--noreload", address, WEB_STARTS_WORKER="1")


def _children(pid: int) -> list[int]:
    """Processes that a process started (proc(5), /proc/pid/task/tid/children)."""
    told = [one.read_text() for one in Path(f"/proc/{pid}/task").glob("*/children")]
    return [int(child) for line in told for child in line.split()]


def _is_over(pid: int) -> bool:
    """Whether it ended and nobody asked how: in a container no init may be there to ask (proc(5), state Z)."""
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"


@pytest.mark.kills
def test_a_worker_beside_the_web_process_is_started_again(sqlite_side: Side, tmp_path: Path) -> None:
    """It was killed in the middle of the work: the next one does it when the lease has run out."""
    side, mark = sqlite_side, tmp_path / "mark"
    (job_id,) = side.manage("side", "add", "--kind", "side.hang_before", "--mark", str(mark))
    serving = _start_serving(side)
    wait_for(mark.exists, "the job to begin")
    (worker,) = _children(serving.pid)
    os.kill(worker, signal.SIGKILL)
    wait_for(side.is_over, "the second worker to finish the job")
    assert side.jobs() == [("done", 2)]
    assert side.effects() == [job_id]
    assert _children(serving.pid) != [worker]


@pytest.mark.kills
@pytest.mark.parametrize("kind", ["side.hang_before", "side.hang_inside"])
def test_a_killed_web_process_loses_no_job_and_doubles_none(sqlite_side: Side, tmp_path: Path, kind: str) -> None:
    """SIGKILL in the middle of the work, or with the effect written but not committed; another worker ends it."""
    side, mark = sqlite_side, tmp_path / "mark"
    (job_id,) = side.manage("side", "add", "--kind", kind, "--mark", str(mark))
    serving = _start_serving(side)
    wait_for(mark.exists, "the job to begin")
    assert side.effects() == []
    (worker,) = _children(serving.pid)
    serving.kill()
    serving.wait(WAIT_SECONDS)
    wait_for(lambda: not Path(f"/proc/{worker}").exists() or _is_over(worker), "the worker beside it to end")
    assert side.jobs() == [("running", 1)]
    side.start(MANAGE, "work")
    wait_for(side.is_over, "the second worker to finish the job")
    assert side.jobs() == [("done", 2)]
    assert side.effects() == [job_id]


@pytest.mark.kills
def test_a_worker_that_wakes_after_its_lease_writes_nothing(sqlite_side: Side, tmp_path: Path) -> None:
    """SIGSTOP until another worker has done the job, then SIGCONT: the effect stays one."""
    side, mark = sqlite_side, tmp_path / "mark"
    (job_id,) = side.manage("side", "add", "--kind", "side.pause", "--mark", str(mark))
    first = side.start(MANAGE, "work")
    wait_for(mark.exists, "the job to begin")
    first.send_signal(signal.SIGSTOP)
    side.start(MANAGE, "work")
    wait_for(side.is_over, "the second worker to finish the job")
    assert side.effects() == [job_id]
    first.send_signal(signal.SIGCONT)
    first.send_signal(signal.SIGTERM)
    assert first.wait(WAIT_SECONDS) == 0
    assert side.effects() == [job_id]
    assert side.jobs() == [("done", 2)]


CLOCK_APART = """
import datetime as dt, sys, time_machine
from django.core.management import execute_from_command_line
there = dt.datetime.now(tz=dt.UTC) + dt.timedelta(hours=int(sys.argv[1]))
with time_machine.travel(there, tick=True):
    execute_from_command_line(["manage.py", "work"])
"""
LEASES = 6
"""Seconds: two leases of the side processes."""


@pytest.mark.kills
@pytest.mark.parametrize("behind", [True, False], ids=["holder behind", "holder ahead"])
def test_workers_whose_clocks_are_two_hours_apart_leave_each_other_their_jobs(
    side: Side, tmp_path: Path, behind: bool
) -> None:
    """By its own clock each would find the other's lease long over, or good for hours after its holder's death."""
    mark = tmp_path / "mark"
    (job_id,) = side.manage("side", "add", "--kind", "side.hang_before", "--mark", str(mark))
    holder = side.start("-c", CLOCK_APART, "-2" if behind else "2")
    wait_for(mark.exists, "the job to begin")
    side.start("-c", CLOCK_APART, "2" if behind else "-2")
    end = time.monotonic() + LEASES
    seen = set()
    while time.monotonic() < end:
        seen.update(side.jobs())
        time.sleep(0.2)
    assert seen == {("running", 1)}
    side.kill(holder)
    wait_for(side.is_over, "the other worker to finish the job")
    assert side.jobs() == [("done", 2)]
    assert side.effects() == [job_id]


WEEKS = 6


def _is_in_the_middle(side: Side) -> bool:
    (progress,) = side.progress()
    return bool(progress.get("week_number", 0) > 1) and side.jobs() == [("running", 1)]


def _kill_in_the_middle_of_a_plan(side: Side, start: Callable[[], subprocess.Popen[bytes]]) -> None:
    """Kill the first worker between two weeks of a run; the second leaves one draft a week, not more."""
    worker = start()
    wait_for(lambda: _is_in_the_middle(side), "the planner to come to its second week")
    side.kill(worker)
    assert side.jobs() == [("running", 1)]
    assert side.rows("SELECT COUNT(*) FROM schedule_weekplan") == [(0,)]
    kept = side.rows("SELECT kept FROM schedule_planrun")[0][0]
    assert json.loads(kept)["weeks"], "the first week is there to go on from"
    start()
    wait_for(side.is_over, "the second worker to finish the plan")
    assert side.jobs() == [("done", 2)]
    drafts = "SELECT COUNT(*), COUNT(DISTINCT monday) FROM schedule_weekplan WHERE status = 'draft'"
    assert side.rows(drafts) == [(WEEKS, WEEKS)]


@pytest.mark.kills
def test_a_web_process_killed_in_the_middle_of_a_plan(sqlite_side: Side) -> None:
    """The real planner in the thread of the web process."""
    sqlite_side.manage("side", "plan", "--count", str(WEEKS))
    _kill_in_the_middle_of_a_plan(sqlite_side, lambda: _start_serving(sqlite_side))


@pytest.mark.kills
@pytest.mark.redis
def test_a_celery_worker_killed_in_the_middle_of_a_plan(sqlite_side: Side, redis_server: RedisServer) -> None:
    """The real planner in a Celery worker."""
    redis_server.start()
    url = redis_server.url
    sqlite_side.manage("side", "plan", "--count", str(WEEKS), REDIS_URL=url)
    _kill_in_the_middle_of_a_plan(sqlite_side, lambda: _start_celery(sqlite_side, url))


def _start_celery(side: Side, url: str) -> subprocess.Popen[bytes]:
    words = ("-m", "celery", "-A", "config", "worker", "--beat", "--concurrency", "1", "--loglevel", "WARNING")
    schedule = side.home / f"beat-{len(side.processes)}"
    return side.start(*words, "--schedule", schedule, REDIS_URL=url)


@pytest.mark.kills
@pytest.mark.redis
def test_a_killed_celery_worker_loses_no_job_and_doubles_none(
    sqlite_side: Side, redis_server: RedisServer, tmp_path: Path
) -> None:
    """SIGKILL to a Celery worker and its children in the middle of the work; another worker ends it."""
    side, mark = sqlite_side, tmp_path / "mark"
    redis_server.start()
    words = ("side", "add", "--kind", "side.hang_before", "--mark", str(mark))
    (job_id,) = side.manage(*words, REDIS_URL=redis_server.url)
    assert side.rows("SELECT COUNT(*) FROM jobs_job WHERE sent_at IS NOT NULL") == [(1,)]
    worker = _start_celery(side, redis_server.url)
    wait_for(mark.exists, "the job to begin")
    side.kill(worker)
    assert side.effects() == []
    _start_celery(side, redis_server.url)
    wait_for(side.is_over, "the second worker to finish the job")
    assert side.jobs() == [("done", 2)]
    assert side.effects() == [job_id]


@pytest.mark.redis
def test_a_job_added_while_redis_is_down_is_sent_later(sqlite_side: Side, redis_server: RedisServer) -> None:
    """Adding succeeds with nobody listening; once Redis is there, the sweeper sends what waits."""
    side = sqlite_side
    (job_id,) = side.manage("side", "add", REDIS_URL=redis_server.url)
    assert side.rows("SELECT state, sent_at FROM jobs_job") == [("waiting", None)]
    redis_server.start()
    _start_celery(side, redis_server.url)
    wait_for(side.is_over, "the sweeper to send the job")
    assert side.jobs() == [("done", 1)]
    assert side.effects() == [job_id]
