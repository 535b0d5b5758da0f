"""How the planner's work grows with sessions, starts and buildings: a plot as ``docs/planner-growth.svg``.

Run: ``python -m benchmarks.plan_growth``. Each point is the median of some generated weeks, in processor seconds
and labels of the exact search; the rest stays as in a week of 25 sessions in 8 buildings with 8 starts a day.
"""

import argparse
import sys
import time
from pathlib import Path
from statistics import median

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import matplotlib as mpl

mpl.use("svg")

from matplotlib import pyplot as plt

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.solve import solve
from schedule.planner.warm import warm_up

PLOT = Path(__file__).resolve().parent.parent / "docs" / "planner-growth.svg"
PANELS: tuple[tuple[str, tuple[int, ...]], ...] = (
    ("sessions", (10, 15, 20, 25, 30, 35)),
    ("starts a day", (4, 6, 8, 10, 12)),
    ("buildings", (3, 5, 7, 9, 11)),
)


def shape(panel: str, size: int) -> WeekShape:
    """The week of one point."""
    if panel == "sessions":
        return WeekShape(sessions=size)
    return WeekShape(starts_a_day=size) if panel == "starts a day" else WeekShape(buildings=size)


def measure(panel: str, size: int, seeds: int) -> tuple[float, float]:
    """Median processor seconds and labels."""
    seconds: list[float] = []
    labels: list[int] = []
    for seed in range(seeds):
        began = time.process_time()
        result = solve(generate_week(shape(panel, size), seed), workers=1, time_limit=60.0)
        seconds.append(time.process_time() - began)
        labels.append(result.labels)
    return median(seconds), median(labels)


def main() -> None:
    """Measure and draw."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3)
    asked = parser.parse_args()
    warm_up()
    mpl.rcParams["svg.hashsalt"] = "planner-growth"
    figure, axes = plt.subplots(2, len(PANELS), figsize=(9, 5), layout="constrained", sharey="row")
    for column, (panel, sizes) in enumerate(PANELS):
        points = [measure(panel, size, asked.seeds) for size in sizes]
        print(panel, list(zip(sizes, points, strict=True)), flush=True)
        for row, name in enumerate(("processor seconds", "labels")):
            axes[row, column].plot(sizes, [point[row] for point in points], marker="o")
            axes[row, column].set_yscale("log" if row == 0 else "symlog")
            axes[row, column].grid(visible=True, alpha=0.3)
            if column == 0:
                axes[row, column].set_ylabel(name)
        axes[1, column].set_xlabel(panel)
    figure.savefig(PLOT, metadata={"Date": None})


if __name__ == "__main__":
    main()
