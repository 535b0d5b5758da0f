"""Generated terms: one timetable for eighteen weeks, beside the plain week copied and weeks each for itself.

    python -m benchmarks.plan_term [--seeds 3] [--sessions 40] [--seconds 120] [--rotations] [--curve]

Prints one line a term and method: standing sessions whose start exists and how many of these are kept, minutes at
the wheel beside the sum of the weeks' own optima (which bounds them, whatever rotates how), owed minutes not placed
beside theirs, the bound given the rotating sessions where days rotate, seconds to a first whole term and in all,
processor seconds. ``--rotations``: one building with a six-day rotation,
one with A and B weeks. ``--curve``: from "nothing moves" to "least driving" at six prices for leaving a usual time.
"""

import argparse
import resource
import time
from collections.abc import Callable
from dataclasses import replace

from benchmarks.terms import TermShape, generate_term
from schedule.planner.jsonform import problem_digest
from schedule.planner.term.alike import kind_of_week, on_days_of
from schedule.planner.term.budget import Budget
from schedule.planner.term.kinds import Weeks
from schedule.planner.term.plan import plan_term
from schedule.planner.term.rotation.whole import with_rest
from schedule.planner.term.term import StandingTimetable, Term, TermResult
from schedule.planner.warm import warm_up

type Planning = Callable[[Term, argparse.Namespace], TermResult]

CLOCK_TIMES = 10
"""Seconds that the clock leaves for each one of work: what comes out is the same on a busy machine."""

WORTHS = (60, 20, 10, 5, 2, 0)


def main() -> None:
    """Run the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1, 2])
    parser.add_argument("--sessions", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=120.0, help="of work, counted in steps")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rotations", action="store_true")
    parser.add_argument("--curve", action="store_true", help="the curve between routine and driving, too")
    parser.add_argument("--only-ours", action="store_true", help="leave the yardsticks out")
    asked = parser.parse_args()
    print(f"compiling (once, then cached): {warm_up():.1f} s")
    for seed in asked.seeds:
        term = generate_term(TermShape(sessions=asked.sessions, rotations=asked.rotations), seed)
        found = measured(f"seed {seed}: ours", planned, term, asked)
        if not asked.only_ours:
            measured(f"seed {seed}: plain week", _copied, term, asked)
        for worth in WORTHS if asked.curve else ():
            measured(
                f"seed {seed}: {worth} min", planned, replace(term, standing=found.standing, worth=worth), asked
            )
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory at most, everything above in one process: {most:.0f} MiB")


def planned(term: Term, asked: argparse.Namespace) -> TermResult:
    """The term as the program plans it, for ``asked.seconds`` of work."""
    return plan_term(term, effort=asked.seconds, time_limit=CLOCK_TIMES * asked.seconds, workers=asked.workers)


def _copied(term: Term, asked: argparse.Namespace) -> TermResult:
    """The weeks of the kind that comes most often at their own best, copied; what begins later put in beside it."""
    budget = Budget(CLOCK_TIMES * asked.seconds, time.monotonic, effort=asked.seconds)
    budget.began = time.monotonic()
    weeks = Weeks(budget, 0, asked.workers)
    kinds: dict[str, list[int]] = {}
    for number, week in enumerate(term.weeks):
        kinds.setdefault(problem_digest(kind_of_week(week.problem, with_pattern=True)), []).append(number)
    standing = StandingTimetable()
    for numbers in sorted(kinds.values(), key=lambda mine: (-len(mine), mine[0])):
        week = term.weeks[numbers[0]]
        if week.unusual:
            continue
        if standing.sessions:
            standing = with_rest(week, standing, weeks.nearest(week, standing, term.worth).plan)
        else:
            plan = weeks.best(week).plan
            standing = standing if plan is None else with_rest(week, standing, on_days_of(plan, week.problem))
    return planned(replace(term, standing=standing), asked)


def measured(name: str, plan: Planning, term: Term, asked: argparse.Namespace) -> TermResult:
    """Plan a term in some way and print its line."""
    began, work = time.monotonic(), time.process_time()
    found = plan(term, asked)
    took, work = time.monotonic() - began, time.process_time() - work
    first = "" if found.first_term_seconds is None else f"first {found.first_term_seconds:.1f} s, "
    more = 100 * (found.drive_minutes / found.bound - 1) if found.bound else 0.0
    print(
        f"{name:<24} | {found.sessions} expected, {found.open} open, {found.kept} kept "
        f"({100 * found.kept / found.open:.2f} %) | drive {found.drive_minutes} >= {found.bound} (+{more:.2f} %) | "
        f"unplaced {found.unplaced} >= {found.bound_unplaced} | {_rotation(found)}{first}"
        f"{took:.1f} s, {work:.1f} cpu s"
        f"{f', ended by {found.ended}' if found.stopped else ''} | "
        f"weeks proved {sum(week.proved for week in found.weeks)}",
        flush=True,
    )
    return found


def _rotation(found: TermResult) -> str:
    """The bound of all timetables with the same rotating sessions, where it is known."""
    bound = found.bound_with_rotation or 0
    return (
        "" if not bound else f"with this rotation >= {bound} (+{100 * (found.drive_minutes / bound - 1):.2f} %) | "
    )


if __name__ == "__main__":
    main()
