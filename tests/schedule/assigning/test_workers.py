"""Who serves whom, searched by several worker processes: the same proposals, and nothing lost with one of them.

What is asserted are the rules of docs/who-serves-whom.md; no outside source.
"""

import os
import signal
from subprocess import Popen

import pytest

from tests.databases import ROOT
from tests.sides import WAIT_SECONDS, Side, wait_for

MANAGE = ROOT / "manage.py"
FOUND = "SELECT run_id, position, found FROM schedule_assigningproposal ORDER BY run_id, position"
PARTS = 2 + 3 + 6 + 6 + 6
"""Weeks of today, searches of the whole, and three rounds for each of two teachers and three proposals."""

type Worker = Popen[bytes]


def _found(side: Side) -> dict[int, list[tuple[int, str]]]:
    """Proposals by run."""
    runs: dict[int, list[tuple[int, str]]] = {}
    for run, position, found in side.rows(FOUND):
        runs.setdefault(run, []).append((position, str(found)))
    return runs


def _ended(worker: Worker) -> None:
    os.killpg(worker.pid, signal.SIGTERM)
    worker.wait(WAIT_SECONDS)


def _work(side: Side) -> Worker:
    return side.start(MANAGE, "work")


def _are_stopped_in_the_middle(side: Side, workers: list[Worker]) -> bool:
    """Whether both stand still with the run and two of its parts in their hands; if not, they go on."""
    for worker in workers:
        os.killpg(worker.pid, signal.SIGSTOP)
    running = "SELECT COUNT(*) FROM jobs_job WHERE state = 'running' AND kind LIKE 'assign_%'"
    if side.rows(running) == [(3,)]:
        return True
    for worker in workers:
        os.killpg(worker.pid, signal.SIGCONT)
    return False


def _alike(side: Side) -> None:
    first, *others = _found(side).values()
    assert [position for position, _ in first] == [0, 1, 2, 3]
    assert others
    for one in others:
        assert one == first


def test_one_worker_and_three_find_the_same(sqlite_side: Side) -> None:
    side = sqlite_side
    for count in (1, 3):
        side.manage("side", "assign", "--count", "1")
        workers = [_work(side) for _ in range(count)]
        wait_for(side.is_over, "the run to end")
        for worker in workers:
            _ended(worker)
    _alike(side)
    assert side.jobs() == [("done", 1)] * 2 * (1 + PARTS)


def _killed_on_the_way(side: Side) -> None:
    """A run by two workers, both of them killed in the middle, and one after them; beside one without a fault."""
    for is_killed in (False, True):
        side.manage("side", "assign", "--count", "5")
        workers = [_work(side) for _ in range(2)]
        if is_killed:
            wait_for(lambda: _are_stopped_in_the_middle(side, workers), "both workers to be in the middle")  # noqa: B023 -- called at once
            side.kill(workers.pop())
            os.killpg(workers[0].pid, signal.SIGCONT)
            wait_for(lambda: any(attempts > 1 for _, attempts in side.jobs()), "the other worker to take its work")
            side.kill(workers.pop())
            workers.append(_work(side))
        wait_for(side.is_over, "the run to end")
        for worker in workers:
            _ended(worker)
    _alike(side)
    states = side.jobs()
    assert {state for state, _ in states} == {"done"}
    assert len(states) == 2 * (1 + PARTS)


@pytest.mark.kills
def test_killed_workers_lose_nothing(sqlite_side: Side) -> None:
    _killed_on_the_way(sqlite_side)
