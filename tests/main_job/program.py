"""One installation of the program: its settings, its commands, and the processes of it that run."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.main_job.browser import Browser
from tests.main_job.steps import StepFailedError
from tests.servers import free_port

ROOT = Path(__file__).resolve().parents[2]
COMMAND_SECONDS = 180
START_SECONDS = 60
STOP_SECONDS = 30


@dataclass
class Program:
    """One installation: its settings, and those of its processes that run."""

    home: Path
    settings: dict[str, str]
    port: int = field(default_factory=free_port)
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where its pages are."""
        return f"http://127.0.0.1:{self.port}"

    def environment(self) -> dict[str, str]:
        """Nothing of the caller's own settings."""
        kept = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR")
        given = {name: os.environ[name] for name in kept if name in os.environ}
        return {**given, "LOG_LEVEL": "WARNING", "VAR_DIR": str(self.home / "var"), **self.settings}

    def manage(self, *words: str | Path) -> str:
        """Run a command to its end; what it printed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            env=self.environment(), cwd=ROOT, capture_output=True, text=True, timeout=COMMAND_SECONDS, check=False,
        )  # fmt: skip
        if done.returncode != 0:
            raise StepFailedError(f"manage.py {words[0]} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
        return done.stdout

    def start(self, *words: str) -> None:
        """Start a process; what it says goes to a file."""
        with (self.home / f"said-{len(list(self.home.glob('said-*')))}").open("wb") as said:
            process = subprocess.Popen(
                [sys.executable, "-m", *words], env=self.environment(), cwd=ROOT, stdout=said, stderr=said
            )
        self.running.append(process)

    def serve(self) -> None:
        """Start the web server and wait until it answers."""
        self.start("waitress", f"--listen=127.0.0.1:{self.port}", "--threads=4", "config.wsgi:application")
        browser = Browser(self.address)
        wait_for(lambda: self.is_whole() and browser.answers("/health/"), START_SECONDS, "the web server")

    def work(self) -> None:
        """Start Celery's worker and beat."""
        schedule = str(self.home / "beat-schedule")
        self.start("celery", "-A", "config", "worker", "--concurrency", "1", "--loglevel", "WARNING")
        self.start("celery", "-A", "config", "beat", "--schedule", schedule, "--loglevel", "WARNING")

    def is_whole(self) -> bool:
        """True. Raises `StepFailedError` if one of the processes has ended by itself."""
        for process in self.running:
            if process.poll() is not None:
                raise StepFailedError(f"{process.args!r} ended with {process.returncode}.")
        return True

    def stop(self) -> None:
        """End every process, the last started first."""
        for process in reversed(self.running):
            process.terminate()
        for process in self.running:
            try:
                process.wait(STOP_SECONDS)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        self.running.clear()

    def said(self) -> str:
        """What its processes printed."""
        return "\n".join(path.read_text(errors="replace") for path in sorted(self.home.glob("said-*")))


def wait_for(look: Callable[[], object], seconds: int, what: str) -> None:
    """Look until there is something. Raises `StepFailedError` after so many seconds."""
    end = time.monotonic() + seconds
    while not look():
        if time.monotonic() > end:
            raise StepFailedError(f"Waited {seconds} s in vain for {what}.")
        time.sleep(0.25)
