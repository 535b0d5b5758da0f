"""How far past its time limit the planner runs, on generated weeks and on the examples of the docs.

Run: ``python -m benchmarks.time_limit``. Prints each run that was cut and the worst of all, in seconds of the wall
clock. docs/planner.md states what is promised.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.jsonform import problem_from_json
from schedule.planner.problem import Problem
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


def problems(seeds: int) -> Iterator[Problem]:
    """The examples, then weeks of each shape."""
    for path in sorted(EXAMPLES.glob("*.json")):
        yield problem_from_json(json.loads(path.read_text(encoding="utf-8")))
    for shape in SHAPES:
        for seed in range(seeds):
            yield generate_week(shape, seed)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--limits", type=float, nargs="+", default=[0.5, 2.0, 10.0])
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    warm_up()
    worst = 0.0
    for limit in asked.limits:
        for problem in problems(asked.seeds):
            result = solve(problem, time_limit=limit, workers=asked.workers)
            if result.ended is Ended.CLOCK:
                worst = max(worst, result.seconds - limit)
                print(f"{limit:6.1f} s  {result.seconds - limit:+6.2f} s  {problem.title}", flush=True)
    print(f"worst: {worst:.2f} seconds past the limit")


if __name__ == "__main__":
    main()
