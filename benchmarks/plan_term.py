"""Generated terms: one timetable for eighteen weeks, beside other ways to plan them; a change; the curve.

    python -m benchmarks.plan_term [--seeds 3] [--sessions 40] [--seconds 120] [--rotations]
        [--rows ours weeks copied flat change curve]

Prints one line a term and method: standing sessions whose start exists and how many of these are kept, minutes at
the wheel beside the sum of the weeks' own optima (which bounds them, whatever rotates how), owed minutes not placed
beside theirs, the bound given the rotating sessions where days rotate, seconds to a first whole term and in all,
processor seconds. ``--rotations``: one building with a six-day rotation,
one with A and B weeks. The rows beside ours: ``weeks`` one after the other, each nearest to the one before;
``copied``, the plain week's own optimum and the others repaired; ``flat``, the whole term as one CP-SAT model;
``change``, our timetable from the middle of the term on with a new service, without a room, and with fewer hours,
at most 20 seconds of work each; ``curve``, from "nothing moves" to "least driving" at six prices of a usual
time.
"""

import argparse
import resource
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from benchmarks.flat_term import flat_term
from benchmarks.term_changes import CHANGES, middle_of
from benchmarks.terms import TermShape, generate_term
from schedule.planner.jsonform import problem_digest
from schedule.planner.term.alike import kind_of_week, on_days_of
from schedule.planner.term.budget import Budget
from schedule.planner.term.choice.whole import planned_week
from schedule.planner.term.expected import standing_session
from schedule.planner.term.following import once_each
from schedule.planner.term.kinds import Least, Weeks
from schedule.planner.term.plan import plan_curve, plan_term
from schedule.planner.term.rotation.whole import with_rest
from schedule.planner.term.term import PlannedWeek, StandingTimetable, Term, TermResult
from schedule.planner.warm import warm_up
from schedule.terms.changing import Way, changed_by

type Planning = Callable[[Term, argparse.Namespace], TermResult]

CLOCK_TIMES = 10
"""Seconds that the clock leaves for each one of work: what comes out is the same on a busy machine."""

WORTHS = (60, 20, 10, 5, 2, 0)
ROWS = ("ours", "weeks", "copied", "flat", "change", "curve")
CHANGE_SECONDS, CURVE_SECONDS = 20.0, 300.0
FLAT_WORKERS = 8


def main() -> None:
    """Run the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1, 2])
    parser.add_argument("--sessions", type=int, default=40)
    parser.add_argument("--seconds", type=float, default=120.0, help="of work, counted in steps")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rotations", action="store_true")
    parser.add_argument("--rows", nargs="+", choices=ROWS, default=ROWS, help="ours is always made")
    asked = parser.parse_args()
    print(f"compiling (once, then cached): {warm_up():.1f} s")
    for seed in asked.seeds:
        term = generate_term(TermShape(sessions=asked.sessions, rotations=asked.rotations), seed)
        found = measured(f"seed {seed}: ours", planned, term, asked)
        if "weeks" in asked.rows:
            measured(f"seed {seed}: each near last", partial(_in_a_row, found), term, asked)
        if "copied" in asked.rows:
            measured(f"seed {seed}: plain week", _copied, term, asked)
        if "flat" in asked.rows:
            _flat(f"seed {seed}: flat CP-SAT", term, asked)
        if "change" in asked.rows:
            _changes(f"seed {seed}", term, found)
        if "curve" in asked.rows:
            _curve(f"seed {seed}", replace(term, standing=found.standing, later=found.later), asked)
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


def _in_a_row(ours: TermResult, term: Term, asked: argparse.Namespace) -> TermResult:
    """The weeks one after the other, each nearest to the one before; kept is what stays where it was then."""
    budget = Budget(CLOCK_TIMES * asked.seconds, time.monotonic, effort=asked.seconds)
    budget.began = time.monotonic()
    weeks = Weeks(budget, 0, asked.workers)
    weeks.expect(len(term.weeks))
    last, made = StandingTimetable(), list[PlannedWeek]()
    for week, same in zip(term.weeks, ours.weeks, strict=True):
        found = weeks.nearest(week, last, term.worth)
        least = Least(found.figures.unplaced, same.least_driving)
        made.append(planned_week(week, last, found, least))
        last = once_each(standing_session(week.problem, one) for one in found.plan.sessions)
    return TermResult(
        last, tuple(made), ours.bound, ours.bound_unplaced, stopped=budget.stopped, ended=budget.ended
    )


def _flat(name: str, term: Term, asked: argparse.Namespace) -> None:
    """The term as one CP-SAT model; the clock ends it, since its work isn't counted in steps."""
    began, work = time.monotonic(), time.process_time()
    found = flat_term(term, asked.seconds, FLAT_WORKERS)
    took, work = time.monotonic() - began, time.process_time() - work
    print(
        f"{name:<24} | {found.variables} variables | {found.leaving} sessions leave | drive {found.drive} | "
        f"unplaced {found.unplaced} | weighs {found.weight(term.worth)} >= {found.bound:.0f} | "
        f"{took:.1f} s, {work:.1f} cpu s",
        flush=True,
    )


def _changes(name: str, term: Term, ours: TermResult) -> None:
    """One change in the middle of the term after the other, by fewest moves."""
    for words, change in CHANGES.items():
        asked = middle_of(term, ours, change)
        work = time.process_time()
        found = changed_by(asked, Way.FEWEST_MOVES, effort=CHANGE_SECONDS, time_limit=CLOCK_TIMES * CHANGE_SECONDS)
        print(
            f"{f'{name}: {words}':<24} | {found.moved} leave where they stood >= {found.fewest}"
            f"{' (fewest, proved)' if found.moved == found.fewest else ''} | drive {found.drive_minutes} in "
            f"{len(asked.typical())} weeks{' (least of these, proved)' if found.proved else ''} | "
            f"unplaced {found.unplaced} | {time.process_time() - work:.1f} cpu s, ended by {found.ended}",
            flush=True,
        )


def _curve(name: str, term: Term, asked: argparse.Namespace) -> None:
    """Six prices of a usual time, as a term's page has them; the seconds are of the processor."""
    began = time.process_time()
    points = plan_curve(term, WORTHS, time_limit=CURVE_SECONDS, workers=asked.workers, monotonic=time.process_time)
    for worth, found in zip(WORTHS, points, strict=False):
        kept = 100 * found.kept / found.open
        print(
            f"{f'{name}: {worth} min':<24} | {found.kept} of {found.open} kept ({kept:.2f} %) | drive "
            f"{found.drive_minutes} >= {found.bound} (+{100 * (found.drive_minutes / found.bound - 1):.2f} %)"
        )
    print(
        f"{f'{name}: the curve':<24} | {len(points)} points | {time.process_time() - began:.1f} cpu s", flush=True
    )


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
