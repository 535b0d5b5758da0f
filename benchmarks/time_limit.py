"""How far past its time limit the planner runs, on generated weeks and on the examples of the docs.

Run: ``python -m benchmarks.time_limit``. Prints each run that was cut and the worst of all, in seconds of the wall
clock; with ``--processor`` in those of the processor, which count as the clock then, so that others on the machine
don't matter. ``--wide``: weeks in windows of 300 minutes and a tour in windows of 240 instead. docs/planner.md
states what is promised.
"""

import argparse
import json
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.plan_hard import generate_tour
from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.jsonform import problem_from_json
from schedule.planner.problem import Problem, Window
from schedule.planner.result import Ended
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up

EXAMPLES = Path(__file__).resolve().parent.parent / "docs" / "examples"
SHAPES = (
    WeekShape(25),
    WeekShape(35, starts_a_day=12),
    WeekShape(45),
    WeekShape(45, preparation_a_day=45, meetings=True),
    WeekShape(60, days=10),
    WeekShape(60, buildings=10, starts_a_day=12),
    WeekShape(80, buildings=5, starts_a_day=12),
    WeekShape(80, days=10, starts_a_day=14),
)
WIDE = (WeekShape(45), WeekShape(45, preparation_a_day=45, stretch=180), WeekShape(120))
WIDTH = 300


def problems(seeds: int) -> Iterator[Problem]:
    """The examples, then weeks of each shape."""
    for path in sorted(EXAMPLES.glob("*.json")):
        yield problem_from_json(json.loads(path.read_text(encoding="utf-8")))
    for shape in SHAPES:
        for seed in range(seeds):
            yield generate_week(shape, seed)


def wide_problems() -> Iterator[Problem]:
    """Weeks whose services may begin at any minute of a window each day, and a tour of 100 stops."""
    for shape in WIDE:
        week, rng = generate_week(shape, 0), random.Random(0)  # noqa: S311 - test data, no secret
        services = []
        for one in week.services:
            opens = [450 + rng.randrange(420 - WIDTH) for _ in week.days]
            days = zip(week.days, opens, strict=True)
            windows = tuple(Window(day.id, at, at + WIDTH, one.starts[0].place) for day, at in days)
            services.append(replace(one, starts=(), barred=(), windows=windows))
        wishes = " with wishes" if shape.stretch else ""
        yield replace(week, services=tuple(services), title=f"{week.title}, windows of {WIDTH} minutes{wishes}")
    yield generate_tour(100, 240, 0)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--limits", type=float, nargs="+", default=[0.5, 2.0, 10.0])
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--processor", action="store_true")
    parser.add_argument("--wide", action="store_true")
    asked = parser.parse_args()
    clock = time.process_time if asked.processor else time.monotonic
    warm_up()
    worst = 0.0
    for limit in asked.limits:
        for problem in wide_problems() if asked.wide else problems(asked.seeds):
            result = solve(problem, time_limit=limit, workers=asked.workers, monotonic=clock)
            if result.ended is Ended.CLOCK:
                worst = max(worst, result.seconds - limit)
                print(f"{limit:6.1f} s  {result.seconds - limit:+6.2f} s  {problem.title}", flush=True)
    print(f"worst: {worst:.2f} seconds past the limit")


if __name__ == "__main__":
    main()
