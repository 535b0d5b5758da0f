"""Plan a week from a problem file, with no database: ``python manage.py solve_week FILE.json``."""

import json
import math
import os
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from schedule.management.stopping import Stopping, stop_on_signals
from schedule.planner.jsonform import json_from_bytes, problem_from_json, result_to_json
from schedule.planner.problem import Problem
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Ended, GoalFigures, Result, Status
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up

NO_PLAN = {Status.INFEASIBLE: 3, Status.UNKNOWN: 4}
"""Exit codes where there is no plan. 1 and 2 are taken: a file or an option that needs fixing."""


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
        parser.add_argument("--time-limit", type=float, default=30.0, help="seconds on the clock (default 30)")
        parser.add_argument(
            "--effort",
            type=float,
            default=math.inf,
            help="seconds of work, counted in steps: same seed, effort and workers, same plan on any machine, if "
            "the time limit leaves enough (default: as much as the time limit allows)",
        )
        parser.add_argument("--workers", type=int, default=2, help="processor cores to use (default 2)")
        parser.add_argument("--quiet", action="store_true", help="no progress line")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, plan, print. Errors in the file name the field and the remedy.

        Ends with 3 where no plan can keep the rules, proved, with 4 where none was found and that isn't proved,
        with 130 after Ctrl-C and 143 after SIGTERM. The answer is written all the same, with the best plan so far.
        """
        if options["workers"] < 1 or not options["time_limit"] > 0 or not options["effort"] > 0:
            raise CommandError("Give at least one worker, a time limit above 0 seconds and an effort above 0.")
        problem = _read(options["file"])
        if options["output"] is not None:
            _require_writable(options["output"])
        with stop_on_signals(self._say) as stopping:
            result = self._solve(problem, stopping, options)
            self._write(result, options["output"])
        self._say(f"{result.status}: {result.message}{_ended(result, stopping, options)}")
        code = stopping.exit_code or NO_PLAN.get(result.status, 0)
        if code:
            sys.exit(code)

    def _solve(self, problem: Problem, stopping: Stopping, options: dict[str, Any]) -> Result:
        with _solver_notices_on_stderr():
            # Compiling, the first time, is no part of the search: the time limit counts from here on.
            if not options["quiet"]:
                self._say("Getting ready: the first time this takes up to a minute.")
            warm_up()
            return solve(
                problem,
                seed=options["seed"],
                time_limit=options["time_limit"],
                effort=options["effort"],
                workers=options["workers"],
                progress=None if options["quiet"] else self._progress,
                stop=stopping.asked,
            )

    def _write(self, result: Result, output: Path | None) -> None:
        """The itinerary to its place; to the screen if that has gone in the meantime, so that it isn't lost."""
        text = json.dumps(result_to_json(result), indent=2, ensure_ascii=False)
        if output is None:
            self.stdout.write(text)
            return
        try:
            output.write_text(text + "\n", encoding="utf-8")
        except OSError as error:
            self.stdout.write(text)
            raise CommandError(
                f"{output} can't be written anymore: {error.strerror}. The itinerary is printed above instead."
            ) from error

    def _say(self, text: str) -> None:
        self.stderr.write(text)

    def _progress(self, elapsed: float, stage: str, message: str, figures: GoalFigures | None) -> None:
        shown = "" if figures is None else f"unplaced {figures.unplaced}, drive {figures.driving} minutes"
        self.stderr.write(f"{elapsed:6.1f} s  {stage}: {message}  {shown}")


def _read(path: Path) -> Problem:
    """The problem. Whatever is wrong with the file is said with its place in it and the remedy."""
    try:
        return problem_from_json(json_from_bytes(path.read_bytes()))
    except OSError as error:
        raise CommandError(f"{path} can't be read: {error.strerror}. Check the path.") from error
    except ProblemError as error:
        raise CommandError(f"{path}: {error}") from error


def _require_writable(output: Path) -> None:
    """Refuse a place where nothing can be written, before the search and not after it."""
    if not output.parent.is_dir():
        raise CommandError(
            f"{output} can't be written: there is no folder {output.parent}. Make it, or choose another place."
        )
    existed = output.exists()
    try:
        with output.open("a", encoding="utf-8"):
            pass
    except OSError as error:
        raise CommandError(f"{output} can't be written: {error.strerror}. Choose another place.") from error
    if not existed:
        output.unlink()


def _ended(result: Result, stopping: Stopping, options: dict[str, Any]) -> str:
    """What ended the search before its proof was complete, and where the plan is."""
    where = "" if options["output"] is None else f" and is in {options['output']}"
    if stopping.asked():
        return f" Stopped by {stopping.words} after {result.seconds:.1f} seconds: this is the best so far{where}."
    if result.plan is None or not result.stopped:
        return ""
    if result.ended is Ended.CLOCK:
        limit = f"{options['time_limit']:g} seconds"
        return f" The time limit of {limit} ended the search: this is the best so far{where}."
    if result.ended is Ended.EFFORT:
        effort = f"{options['effort']:g} seconds of work"
        return f" The effort of {effort} ended the search: this is the best so far{where}."
    return f" This is the best found{where}."


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
