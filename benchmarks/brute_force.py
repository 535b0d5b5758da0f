"""Tiny weeks by the thousand against every plan there is, each rule switched on and off at random.

Run: ``python -m benchmarks.brute_force`` (``--weeks 5000 --first 0``). Ends with an error at the first week whose
proved answer is not the best of all plans. The suite runs the first few hundred.
"""

import argparse
import sys
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from schedule.planner.check import check
from schedule.planner.result import Status
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import random_tiny_week

TELL_EVERY = 250


def fault_of(seed: int, *, triangle: bool) -> str | None:
    """What is wrong with the planner's answer to one tiny week; ``None`` where nothing is."""
    problem = random_tiny_week(seed, triangle=triangle)
    expected = best_figures(problem)
    result = solve(problem, workers=1, time_limit=60.0)
    if result.plan is None or result.figures is None:
        proved_wrong = expected is not None and result.status is Status.INFEASIBLE
        return "a plan exists" if proved_wrong else None
    if expected is None:
        return "no plan should exist"
    found = result.figures.in_order(problem.goals)
    if not check(problem, result.plan).holds:
        return "the judge refuses the plan"
    if found < expected or (result.status is Status.OPTIMAL and found != expected):
        return f"found {found}, the best of all plans is {expected}"
    if triangle and result.status is not Status.OPTIMAL:
        return "not proved"
    return None


def main() -> None:
    """Go through the weeks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weeks", type=int, default=5000)
    parser.add_argument("--first", type=int, default=0, help="seed of the first week")
    asked = parser.parse_args()
    for seed in range(asked.first, asked.first + asked.weeks):
        for triangle in (True, False):
            fault = fault_of(seed, triangle=triangle)
            if fault is not None:
                sys.exit(f"Week {seed} (straight drives are shortest: {triangle}): {fault}")
        if (seed + 1) % TELL_EVERY == 0:
            print(f"{seed + 1 - asked.first} weeks, twice each: no fault", flush=True)


if __name__ == "__main__":
    main()
