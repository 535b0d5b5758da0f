"""Faults under background work: Redis away, workers and web servers killed, clocks (``benchmarks.faults``)."""

import os
import random
import signal
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

import urllib3
from urllib3.filepost import encode_multipart_formdata

from benchmarks.faults_ground import (
    EFFECTS,
    Places,
    Row,
    row_of,
    run_module,
    serve,
    signed_in,
    stored,
    wait_until,
)
from tests.servers import RedisServer, free_port, redis_program
from tests.sides import Side
from tests.visitor import Visitor

PLANNERS = 6
MONDAYS = ("2026-09-14", "2026-09-21")


def redis_away(places: Places) -> Row:
    """Half of the plans are asked for before Redis stops, half while it is away; then it comes back, empty."""
    with tempfile.TemporaryDirectory() as folder, places.postgres() as (side, _cluster):
        server = RedisServer(redis_program(), Path(folder))
        server.start()
        try:
            run_module(side, "school", str(PLANNERS))
            site = serve(side, REDIS_URL=server.url)
            words = (
                "-m",
                "celery",
                "-A",
                "config",
                "worker",
                "--beat",
                "--concurrency",
                "1",
                "--loglevel",
                "ERROR",
            )
            side.start(*words, "--schedule", side.home / "beat", REDIS_URL=server.url)
            told = [_plan(site, number) for number in range(PLANNERS // 2)]
            wait_until(lambda: "running" in _states(side), "the first plan to begin")
            server.stop()
            told += [_plan(site, number) for number in range(PLANNERS // 2, PLANNERS)]
            time.sleep(5)
            server.start()
            wait_until(side.is_over, "the plans")
        finally:
            server.stop()
        drafts = side.rows(
            "SELECT username, CAST(monday AS text) FROM schedule_weekplan "
            "JOIN accounts_person ON accounts_person.id = teacher_id WHERE status = 'draft'"
        )
    asked = [(f"planner{number}", monday) for number in range(PLANNERS) for monday in MONDAYS]
    good = [one for one in asked if told[int(one[0].removeprefix("planner"))][0] == 201]
    counted = Counter(said for _status, said in told)
    saw = "; ".join(f"{count} times {said}" for said, count in counted.items())
    return row_of("Redis stopped while plans run, drafts", len(asked), good, drafts, saw)


def _plan(site: Visitor, number: int) -> tuple[int, str]:
    """Ask for two weeks; what the page of it says."""
    mine = signed_in(Visitor(site.site), f"planner{number}")
    answer = mine.call("plan-runs/", {"first_date": MONDAYS[0], "last_date": "2026-09-25", "time_limit": 2})
    told = answer.json()
    return answer.status, f"asked, {told.get('state', '')}" if answer.status == 201 else str(told["message"])


def _states(side: Side) -> set[str]:
    return {str(state) for state, _attempts in side.jobs()}


def _attempts(side: Side) -> int:
    return sum(int(attempts) for _state, attempts in side.jobs())


def killed_workers(places: Places) -> Row:
    """SIGKILL at a random moment after a worker took a job, 50 times; what broke off is started again."""
    draw = random.Random(1)  # noqa: S311 -- moments of a run, the same each time
    with places.sqlite() as side:
        side.manage("side", "prepare")
        added = side.manage("side", "add", "--kind", "side.work", "--count", "120")
        nursery = side.start("-m", "benchmarks.faults_side", "nursery")
        children = Path(f"/proc/{nursery.pid}/task/{nursery.pid}/children")
        for _ in range(50):
            before = _attempts(side)
            wait_until(lambda known=before: _attempts(side) > known, "a worker to take a job")  # type: ignore[misc]
            time.sleep(draw.uniform(0, 0.6))
            os.kill(int(children.read_text().split()[0]), signal.SIGKILL)
        wait_until(side.is_over, "the rest")
        begun = int(run_module(side, "again"))
        wait_until(side.is_over, "what broke off")
        saw = f"{begun} broke off after three kills each and were started again; nothing of the others"
        return row_of("Worker killed at random moments 50 times", 120, added, stored(side, EFFECTS), saw)


def clocks_apart(places: Places) -> Row:
    """Workers one hour ahead and one behind, which makes two, share 60 jobs."""
    return _by_clocks(places, "Clocks of two workers two hours apart", ("1", "0"), ("-1", "0"))


def clocks_changed(places: Places) -> Row:
    """One worker's clock is put forward by an hour and back again, the other's back and forward, amid work."""
    return _by_clocks(places, "Clocks put forward and back by an hour amid work", ("0", "1"), ("0", "-1"))


def _by_clocks(places: Places, fault: str, *workers: tuple[str, str]) -> Row:
    with places.postgres() as (side, _cluster):
        side.manage("side", "prepare")
        for hours, jump in workers:
            side.start("-m", "benchmarks.faults_side", "work", hours, jump)
        added = side.manage("side", "add", "--kind", "side.work", "--count", "60")
        wait_until(side.is_over, "the jobs")
        most = max(int(attempts) for _state, attempts in side.jobs())
        saw = f"nothing; each job was begun {'once' if most == 1 else f'up to {most} times'}"
        return row_of(fault, 60, added, stored(side, EFFECTS), saw)


TRIALS, ROWS = 5, 120


def killed_in_imports(places: Places) -> Row:
    """The web server, with its worker in it, is killed once while it checks a file and once while it saves it."""
    draw = random.Random(1)  # noqa: S311 -- as above
    with places.sqlite() as side:
        run_module(side, "school", "0")
        importing = _Importing(side, draw)
        good: list[str] = []
        for trial in range(TRIALS):
            codes = [f"T{trial}N{number}" for number in range(ROWS)]
            importing.carry_through(codes)
            good += codes
        found = [code for (code,) in side.rows("SELECT code FROM caseload_student WHERE code LIKE 'T%'")]
    saw = "; ".join(f"{count} times {said}" for said, count in importing.saw.most_common())
    name = f"Web server killed in an import {2 * TRIALS} times, rows"
    return row_of(name, TRIALS * ROWS, good, found, saw)


class _Importing:
    """Somebody who sends files, reads what becomes of them, and does what the program says."""

    def __init__(self, side: Side, draw: random.Random) -> None:
        self.side, self.draw = side, draw
        self.port = free_port()
        self.saw: Counter[str] = Counter()
        self.visitor = signed_in(self._serve())

    def _serve(self) -> Visitor:
        return serve(self.side, self.port, WEB_STARTS_WORKER="1")

    def carry_through(self, codes: list[str]) -> None:
        """Until the file is saved, with a kill in the check and one in the saving."""
        batch = self._ask("imports/", _file(codes), kill=True)
        while batch is None or batch["state"] != "committed":
            if batch is None:
                self.saw["no answer: sent again"] += 1
                batch = self._ask("imports/", _file(codes))
            elif batch["state"] == "checking" and not batch["is_cut_off"]:
                time.sleep(0.2)
                batch = self._look(batch["id"])
            elif batch["state"] == "checking":
                self.saw["“the check was cut off”: sent again"] += 1
                batch = None
            else:
                batch = self._commit(batch)

    def _commit(self, batch: dict[str, Any]) -> dict[str, Any]:
        first = batch["state"] == "preview" and not batch.get("tried")
        answered = self._ask(f"imports/{batch['id']}/commit/", None, kill=first)
        if answered is None:
            self.saw["no answer to saving: looked again"] += 1
        return {**self._look(batch["id"]), "tried": True}

    def _look(self, number: int) -> dict[str, Any]:
        found: dict[str, Any] = self.visitor.ask("GET", f"/api/1/imports/{number}/").json()
        return found

    def _ask(self, path: str, file: tuple[str, str] | None, *, kill: bool = False) -> dict[str, Any] | None:
        """The answer; None where none came. With ``kill`` the server ends at some moment around it."""
        body, kind = file or ("{}", "application/json")
        headers = {"X-CSRFToken": self.visitor.cookies["csrftoken"].value, "Origin": self.visitor.site}
        if kill:
            return self._ask_killed(path, body, {**headers, "Content-Type": kind})
        answer = self.visitor.ask("POST", f"/api/1/{path}", body, **headers, **{"Content-Type": kind})
        if answer.status >= 400:
            self.saw[f"{answer.status} “{answer.json()['message']}”"] += 1
            return None
        found: dict[str, Any] = answer.json()
        return found

    def _ask_killed(self, path: str, body: str, headers: dict[str, str]) -> dict[str, Any] | None:
        process = self.side.processes[-1]
        timer = threading.Timer(self.draw.uniform(0.02, 1.2), self.side.kill, [process])
        timer.start()
        found: dict[str, Any] | None = None
        try:
            answer = self.visitor.ask("POST", f"/api/1/{path}", body, **headers)
        except urllib3.exceptions.HTTPError:
            found = None
        else:
            found = answer.json() if answer.status < 400 else None
        timer.join()
        cookies, self.visitor = self.visitor.cookies, self._serve()
        self.visitor.cookies = cookies
        return found


def _file(codes: list[str]) -> tuple[str, str]:
    lines = [
        "Student code,First name,Last name,Grade,Building code",
        *(f"{code},Ola,Tarn,3,NORTH" for code in codes),
    ]
    table = ("table.csv", "\n".join(lines).encode(), "text/csv")
    body, kind = encode_multipart_formdata({"kind": "students", "file": table})
    return body.decode(), kind
