"""Weeks where proof is hard, and single days with wide windows: what is known after so much work.

Run: ``python -m benchmarks.plan_hard`` (``--effort 60``: seconds of work for each, ``--seeds 1``). Prints for each
the first week, the week after 1, 2, 4 and 8 seconds of the processor and the last one (unplaced / wishes missed /
drive minutes), after how many seconds it first was within a tenth of the last one in each, what is left of the gap
to the bound, and the memory at most so far.
"""

import argparse
import math
import random
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.problem import Day, Goal, Place, Problem, Service, Window
from schedule.planner.result import GoalFigures
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up

GOALS = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)
LOOKS = (1, 2, 4, 8)
TENTH = 1.1
SIDE = 50
"""Minutes from one side of a tour's square to the other, as in the published tours with time windows."""

SHAPES = {
    "45 sessions, 80 starts a day": WeekShape(45, starts_a_day=80, grid=5),
    "the same, with wishes": WeekShape(45, starts_a_day=80, grid=5, preparation_a_day=45, stretch=180),
    "80 sessions, 12 buildings, a fortnight": WeekShape(80, 12, 10),
    "80 sessions, 12 buildings, overloaded": WeekShape(80, 12),
    "45 sessions with wishes": WeekShape(45, preparation_a_day=45, meetings=True, stretch=150),
    "the same, 4 starts a day": WeekShape(45, starts_a_day=4, preparation_a_day=60, meetings=True, stretch=120),
}
TOURS = ((20, 160), (20, 240), (40, 120))

type Figures = tuple[int, int, int]


def problems(seeds: int) -> Iterator[Problem]:
    """Weeks of each shape, then tours."""
    for (name, shape), seed in product(SHAPES.items(), range(seeds)):
        yield replace(generate_week(shape, seed), goals=GOALS, title=f"{name}, seed {seed}")
    for (stops, width), seed in product(TOURS, range(seeds)):
        yield generate_tour(stops, width, seed)


def generate_tour(stops: int, width: int, seed: int) -> Problem:
    """One day on which every stop is owed once, in a window about the time of one tour that visits them all."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    minutes = _ways(rng, stops + 1)
    at, now = 0, 0
    left = set(range(1, stops + 1))
    services: list[Service] = []
    while left:
        near = sorted(left, key=minutes[at].__getitem__)
        following = near[min(rng.randrange(3), len(near) - 1)]
        now += minutes[at][following] + (at > 0)
        opens = max(0, now - rng.randint(0, width))
        window = Window("day", opens, max(now, opens + width), f"p{following}")
        services.append(Service(f"s{following}", 1, 1, windows=(window,)))
        left.discard(following)
        at = following
    names = [f"p{n}" for n in range(stops + 1)]
    return Problem(
        places=tuple(Place(name) for name in names),
        drive_minutes={a: {b: minutes[i][j] for j, b in enumerate(names)} for i, a in enumerate(names)},
        days=(Day("day", 0, now + width + minutes[at][0] + 1, start_place="p0", end_place="p0"),),
        services=tuple(services),
        goals=(Goal.UNPLACED, Goal.DRIVING),
        title=f"a tour of {stops} stops, windows of {width} minutes, seed {seed}",
    )


def _ways(rng: random.Random, size: int) -> list[list[int]]:
    """Minutes between points of a square; none is longer than by way of a third point."""
    points = [(rng.uniform(0, SIDE), rng.uniform(0, SIDE)) for _ in range(size)]
    ways = [[0 if a == b else max(1, round(math.dist(a, b))) for b in points] for a in points]
    for by, a, b in product(range(size), repeat=3):
        ways[a][b] = min(ways[a][b], ways[a][by] + ways[by][b])
    return ways


def shown(figures: Figures) -> str:
    """Unplaced / wishes missed / drive minutes."""
    return "/".join(map(str, figures))


def print_line(problem: Problem, effort: float, *, workers: int) -> None:
    """Plan one problem and print what was known when."""
    began = time.process_time()
    seen: list[tuple[float, Figures]] = []

    def look(seconds: float, stage: str, message: str, figures: GoalFigures | None) -> None:
        del seconds, stage, message
        if figures is not None:
            seen.append((time.process_time() - began, (figures.unplaced, figures.wishes, figures.driving)))

    result = solve(problem, effort=effort, time_limit=20 * effort, workers=workers, progress=look)
    spent = time.process_time() - began
    if result.figures is None:
        print(f"{problem.title}: {result.message}", flush=True)
        return
    end = result.figures.unplaced, result.figures.wishes, result.figures.driving
    within = next(at for at, one in [*seen, (spent, end)] if is_within(one, end))
    looks = "  ".join(f"{limit} s {shown(_at(seen, limit))}" for limit in LOOKS if limit < spent)
    gaps = ", ".join(
        f"{one.goal.value} {one.value} >= {one.bound}" for one in result.stages if one.value > one.bound
    )
    print(f"{problem.title}: first {shown(seen[0][1])}  {looks}  end {shown(end)}; {spent:.0f} s")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"    within a tenth after {within:.1f} s; {gaps or 'proved'}; {memory:.0f} MiB", flush=True)


def is_within(one: Figures, end: Figures) -> bool:
    """Whether each figure is at most a tenth above the end's."""
    return all(a <= TENTH * b for a, b in zip(one, end, strict=True))


def _at(seen: list[tuple[float, Figures]], limit: float) -> Figures:
    return [one for at, one in seen if at <= limit or at == seen[0][0]][-1]


def main() -> None:
    """Read the words of the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--effort", type=float, default=60.0)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--only", default="", help="Words of the titles wanted.")
    given = parser.parse_args()
    warm_up()
    for problem in problems(given.seeds):
        if given.only in (problem.title or ""):
            print_line(problem, given.effort, workers=given.workers)


if __name__ == "__main__":
    main()
