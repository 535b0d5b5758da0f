"""The main job through both set-ups, in an environment of the runtime packages alone: python -m tests.main_job.

Embedded (SQLite, a thread in the web process), then as a server (PostgreSQL, Redis, worker, beat): migrate, load
the invented district, sign in over HTTP, ask for a plan, wait for it, publish, log a session, read the ledger,
fetch a feed, back up while it runs, and restore. Ends with 0, or with what went wrong and what the processes said.
"""

import importlib.util
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from tests.main_job.browser import Browser
from tests.main_job.program import Program
from tests.main_job.steps import (
    StepFailedError,
    log_session,
    plan_and_publish,
    read_feed,
    read_ledger,
    sign_in,
)
from tests.servers import MissingServiceError, RedisServer, postgres_server, redis_program

DELIVERED = "Delivered"

#: An installation, and what is done to it between asking for a plan and waiting for it.
type SetUp = tuple[Program, Callable[[], None]]


def say(text: str) -> None:
    """Tell how far it is."""
    sys.stdout.write(f"{time.strftime('%H:%M:%S')}  {text}\n")
    sys.stdout.flush()


def main_job(program: Program, before_planned: Callable[[], None]) -> None:
    """All of it. Raises `StepFailedError` at the first step that doesn't do what it should."""
    say("  migrate, load the invented district, serve")
    program.manage("migrate", "--verbosity", "0")
    program.manage("load_demo")
    program.serve()
    browser = Browser(program.address)
    sign_in(browser)
    say("  plan a week and publish it")
    plan_and_publish(browser, before_planned)
    say("  log a session, read the ledger and a feed")
    student = log_session(browser)
    minutes = read_ledger(browser, student)[DELIVERED]
    if not minutes:
        raise StepFailedError("A session is logged, and the ledger knows of no minute delivered.")
    read_feed(browser)
    say("  back up while it runs, log another session, restore")
    backup = program.home / "backup.zip"
    program.manage("backup", backup)
    student_later = log_session(browser)
    minutes_later = read_ledger(browser, student_later)[DELIVERED]
    program.is_whole()
    program.stop()
    program.manage("restore", backup, "--replace")
    program.serve()
    browser = Browser(program.address)
    sign_in(browser)
    if read_ledger(browser, student)[DELIVERED] != minutes:
        raise StepFailedError("What was logged before the backup isn't there after the restore.")
    if read_ledger(browser, student_later)[DELIVERED] >= minutes_later:
        raise StepFailedError("What was logged after the backup is still there after the restore.")


@contextmanager
def embedded(home: Path) -> Iterator[SetUp]:
    """SQLite and the thread, with no setting but where the file lies."""
    yield Program(home, {"DATABASE_URL": f"sqlite:///{home / 'main.sqlite3'}"}), lambda: None


@contextmanager
def as_server(home: Path) -> Iterator[SetUp]:
    """PostgreSQL, Redis, worker and beat; Redis is down when the plan is asked for, so the beat must send it."""
    queue = RedisServer(redis_program(), home)
    with postgres_server() as url:
        settings = {"DATABASE_URL": url, "REDIS_URL": queue.url}
        program = Program(home, settings)

        def before_planned() -> None:
            queue.start()
            program.work()

        try:
            yield program, before_planned
        finally:
            queue.stop()


def went_well(name: str, set_up: Callable[[Path], AbstractContextManager[SetUp]]) -> bool:
    """Do the main job through one set-up; whether it did what it should."""
    say(name)
    with (
        tempfile.TemporaryDirectory(prefix="main-job-") as folder,
        set_up(Path(folder)) as (program, before_planned),
    ):
        try:
            main_job(program, before_planned)
        except (StepFailedError, OSError, subprocess.TimeoutExpired) as error:
            say(f"FAILED: {error}\nThe processes said:\n{program.said()}")
            return False
        finally:
            program.stop()
    say("  done")
    return True


def main() -> int:
    """Both set-ups; 0 if both went well."""
    if importlib.util.find_spec("pytest") is not None:
        say("This environment has packages of the tests: run it in one of the runtime packages alone.")
        return 2
    try:
        return 0 if went_well("Embedded", embedded) and went_well("Server", as_server) else 1
    except MissingServiceError as missing:
        say(f"FAILED: {missing} is missing.")
        return 1


if __name__ == "__main__":
    sys.exit(main())
