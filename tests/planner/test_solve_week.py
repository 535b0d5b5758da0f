"""The command loses no plan when it is stopped or its place goes away, and says what ended the search."""

import json
import os
import signal
import subprocess
import sys
import time
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.check import check
from schedule.planner.jsonform import from_json, problem_to_json
from schedule.planner.problem import Problem
from schedule.planner.result import Itinerary

ROOT = Path(__file__).resolve().parents[2]
WAIT_SECONDS = 180
HARD = WeekShape(60, buildings=10, starts_a_day=12)
"""A week whose proof takes far longer than any test."""


@pytest.fixture
def hard(tmp_path: Path) -> Path:
    """Its problem file."""
    path = tmp_path / "hard.json"
    path.write_text(json.dumps(problem_to_json(generate_week(HARD, 1))), encoding="utf-8")
    return path


def judged(answer: dict[str, Any], problem: Problem) -> None:
    """The plan of an answer is one that the judge passes, with the figures that stand beside it."""
    verdict = check(problem, from_json(Itinerary, answer["plan"]))
    assert verdict.holds
    assert {goal: verdict.figures.of(goal) for goal in problem.goals} == answer["figures"]


# ---- stopped ---------------------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize(
    ("number", "code", "name"), [(signal.SIGINT, 130, "Ctrl-C"), (signal.SIGTERM, 143, "SIGTERM")]
)
def test_a_search_that_is_stopped_writes_its_best_plan(
    tmp_path: Path, hard: Path, number: signal.Signals, code: int, name: str
) -> None:
    """128 and the signal's number is how shells give back a process that a signal ended (POSIX, sh, 2.8.2)."""
    output, told = tmp_path / "plan.json", tmp_path / "told"
    with told.open("wb") as stream:
        process = subprocess.Popen(
            [sys.executable, ROOT / "manage.py", "solve_week", hard, "--output", output, "--time-limit", "600"],
            stderr=stream,
            stdout=stream,
            env={**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "PYTHONPATH": str(ROOT)},
        )
        try:
            end = time.monotonic() + WAIT_SECONDS
            while "round 1:" not in told.read_text() and time.monotonic() < end and process.poll() is None:
                time.sleep(0.05)
            process.send_signal(number)
            assert process.wait(WAIT_SECONDS) == code, told.read_text()
        finally:
            process.kill()
    answer = json.loads(output.read_text(encoding="utf-8"))
    assert answer["stopped"]
    judged(answer, generate_week(HARD, 1))
    said = told.read_text()
    assert f"Stopping ({name})" in said
    assert f"Stopped by {name} after " in said
    assert f"this is the best so far and is in {output}." in said


# ---- where it is written ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "said"),
    [("none/plan.json", "there is no folder .*none. Make it"), (".", "Is a directory. Choose another place")],
)
def test_a_place_that_cannot_be_written_is_refused_before_the_search(
    tmp_path: Path, hard: Path, place: str, said: str
) -> None:
    told = StringIO()
    with pytest.raises(CommandError, match=said):
        call_command("solve_week", hard, output=tmp_path / place, time_limit=1.0, stderr=told)
    assert "first plan" not in told.getvalue()


def test_a_refused_file_leaves_an_older_plan_and_no_empty_one(tmp_path: Path) -> None:
    """Looking whether the place can be written changes nothing there."""
    older = tmp_path / "older.json"
    older.write_text("older", encoding="utf-8")
    for output in (older, tmp_path / "new.json"):
        with pytest.raises(CommandError):
            call_command("solve_week", tmp_path / "none.json", output=output, stderr=StringIO())
    assert older.read_text(encoding="utf-8") == "older"
    assert not (tmp_path / "new.json").exists()


class TakesTheFolderAway(StringIO):
    """Standard error that takes the output's folder away once there is a plan."""

    folder: Path | None = None

    def write(self, text: str) -> int:
        """Keep the text."""
        if self.folder is not None and "first plan, checked" in text and self.folder.exists():
            self.folder.rmdir()
        return super().write(text)


def test_a_plan_whose_place_has_gone_goes_to_the_screen(tmp_path: Path, hard: Path) -> None:
    told, out = TakesTheFolderAway(), StringIO()
    told.folder = tmp_path / "plans"
    told.folder.mkdir()
    with pytest.raises(CommandError, match=r"can't be written anymore.*is printed above"):
        call_command(
            "solve_week", hard, output=told.folder / "plan.json", time_limit=0.5, stdout=out, stderr=told, workers=1
        )
    judged(json.loads(out.getvalue()), generate_week(HARD, 1))


def test_the_clock_that_ends_a_search_is_named(tmp_path: Path, hard: Path) -> None:
    output, told = tmp_path / "plan.json", StringIO()
    call_command("solve_week", hard, output=output, time_limit=0.5, stderr=told, quiet=True, workers=1)
    assert json.loads(output.read_text(encoding="utf-8"))["stopped"]
    assert "The time limit of 0.5 seconds ended the search: this is the best so far" in told.getvalue()
