"""Plan a week from a problem file, with no database: ``python manage.py solve_week FILE.json``."""

import json
import os
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from schedule.planner.jsonform import problem_from_json, result_to_json
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Figures
from schedule.planner.solve import solve


class Command(BaseCommand):
    """Reads a planning problem and prints or writes the itinerary as JSON."""

    help = "Plan a week from a problem file (docs/problem-file.md). Needs no database."
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the arguments."""
        parser.add_argument("file", type=Path, help="the problem file (JSON)")
        parser.add_argument("--output", type=Path, help="write the itinerary here, not to the screen")
        parser.add_argument("--seed", type=int, default=0, help="same seed and workers: same plan")
        parser.add_argument("--time-limit", type=float, default=30.0, help="seconds (default 30)")
        parser.add_argument("--workers", type=int, default=2, help="processor cores to use (default 2)")
        parser.add_argument("--quiet", action="store_true", help="no progress line")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, plan, print. Errors in the file name the field and the remedy."""
        if options["workers"] < 1 or options["time_limit"] <= 0:
            raise CommandError("Give at least one worker and a time limit above 0 seconds.")
        data = _read(options["file"])
        progress = None if options["quiet"] else self._progress
        try:
            problem = problem_from_json(data)
        except ProblemError as error:
            raise CommandError(f"{options['file']}: {error}") from error
        with _solver_notices_on_stderr():
            result = solve(
                problem,
                seed=options["seed"],
                time_limit=options["time_limit"],
                workers=options["workers"],
                progress=progress,
            )
        text = json.dumps(result_to_json(result), indent=2, ensure_ascii=False)
        if options["output"] is None:
            self.stdout.write(text)
        else:
            options["output"].write_text(text + "\n", encoding="utf-8")
        self.stderr.write(f"{result.status}: {result.message}")

    def _progress(self, elapsed: float, stage: str, message: str, figures: Figures | None) -> None:
        shown = "" if figures is None else f"unplaced {figures.unplaced}, drive {figures.driving} minutes"
        self.stderr.write(f"{elapsed:6.1f} s  {stage}: {message}  {shown}")


def _read(path: Path) -> object:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise CommandError(f"{path} can't be read: {error.strerror}. Check the path.") from error
    except UnicodeDecodeError as error:
        raise CommandError(f"{path} is not UTF-8 text. Save it as UTF-8.") from error
    except json.JSONDecodeError as error:
        raise CommandError(f"{path}, line {error.lineno}: not JSON ({error.msg}). Mend that line.") from error


@contextmanager
def _solver_notices_on_stderr() -> Iterator[None]:
    """HiGHS prints a banner to the process's standard output, which must hold the itinerary alone."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
