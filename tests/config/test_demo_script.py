"""script/demo from one end to the other: set up, load, plan, print, serve; and again, changing nothing."""

import os
import re
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "script" / "demo"


@pytest.fixture(scope="module")
def environment(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """This test run's own packages, a database of its own, and a short search."""
    folder = tmp_path_factory.mktemp("a folder with spaces")
    return {
        **os.environ,
        "VENV_DIR": sys.prefix,
        "DEMO_DATABASE": str(folder / "demo.sqlite3"),
        "PLAN_SECONDS": "4",
        "DATABASE_URL": "sqlite:///nowhere/that/exists.sqlite3",
        # A server's settings stay out of the demo.
        "SITE_ADDRESS": "https://plan.school.example",
    }


@pytest.fixture(scope="module")
def first_run(environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """The first run, from a folder that is not the project's."""
    return subprocess.run(
        [DEMO, "--no-serve"], env=environment, cwd="/", capture_output=True, text=True, check=False
    )


def test_the_first_run_loads_plans_and_prints(first_run: subprocess.CompletedProcess[str]) -> None:
    assert first_run.returncode == 0, first_run.stderr
    assert "is loaded" in first_run.stdout
    for words in ("Sessions placed", "Minutes placed", "Drive minutes", "Miles", "teacher", "coordinator"):
        assert words in first_run.stdout
    assert "Planning the week of" in first_run.stderr
    placed = re.search(r"Sessions placed +(\d+)", first_run.stdout)
    assert placed is not None
    assert int(placed[1]) > 0
    # However busy the machine: it searches until everything has a place, or it is proved that no week places more.
    assert "until everything owed is placed" in first_run.stderr
    assert "Everything owed is placed." in first_run.stderr or "no week places more" in first_run.stderr
    # So are the weeks after it, as one timetable for the term's page; at the end of the year there are none.
    planned, none_left = "One timetable for the weeks from", "No weeks after it are planned as one timetable"
    assert planned in first_run.stdout or none_left in first_run.stdout + first_run.stderr


def test_a_second_run_changes_nothing(
    first_run: subprocess.CompletedProcess[str], environment: dict[str, str]
) -> None:
    again = subprocess.run(
        [DEMO, "--no-serve"], env=environment, cwd="/", capture_output=True, text=True, check=False
    )
    assert again.returncode == 0, again.stderr
    assert "is in place" in again.stdout
    assert "Planning the week of" not in again.stderr
    assert again.stdout.partition("Week of")[2] == first_run.stdout.partition("Week of")[2]


def test_an_argument_that_it_does_not_know_is_named(environment: dict[str, str]) -> None:
    done = subprocess.run([DEMO, "--sevre"], env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "--sevre" in done.stderr


@pytest.fixture
def taken_port() -> Iterator[int]:
    """A port on which something listens already."""
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        yield server.getsockname()[1]


def test_it_serves_on_the_next_port_when_one_is_taken(
    first_run: subprocess.CompletedProcess[str], environment: dict[str, str], taken_port: int
) -> None:
    with subprocess.Popen(
        [DEMO],
        env={**environment, "PORT": str(taken_port)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as process:
        try:
            text = _until_it_serves(process)
            assert f"Port {taken_port} is taken" in text
            address = re.search(r"Open (http://127\.0\.0\.1:(\d+)/)", text)
            assert address is not None
            assert int(address[2]) > taken_port
            with urllib.request.urlopen(f"{address[1]}sign-in/", timeout=20) as page:  # noqa: S310 -- our own address
                assert page.status == 200
        finally:
            # Not by an interrupt: whatever a shell starts in the background inherits that it is ignored.
            process.kill()


def _until_it_serves(process: subprocess.Popen[str]) -> str:
    """What it prints up to the server's own line, or all of it if it ends before."""
    assert process.stdout is not None
    text = ""
    for line in process.stdout:
        text += line
        if "Serving on" in line:
            break
    return text
