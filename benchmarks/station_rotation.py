"""Rotations of a large class: 14 students, 7 stations, 6 rounds, 5 aides, in processor seconds.

    python -m benchmarks.station_rotation

The classes are invented: two students have an aide of their own, one needs an adult near, three pairs are kept
apart, two stations need an adult, each student has two to four goals and one in five a caution. The goal is 2
seconds for a rotation.
"""

import random
import time
from dataclasses import replace

from schedule.stations.rotation.asked import (
    ALL_RULES,
    AskedAdult,
    AskedStation,
    AskedStudent,
    HelpBy,
    RotationAsked,
    RotationFound,
    RotationRule,
)
from schedule.stations.rotation.clashing import rotation_clash
from schedule.stations.rotation.judging import rotation_judge
from schedule.stations.rotation.solving import rotation_solve

STUDENTS, STATIONS, ROUNDS, AIDES, CLASSES = 14, 7, 6, 5, 6


def large_class(seed: int, help_by: HelpBy) -> RotationAsked:
    """One invented class."""
    rng = random.Random(seed)  # noqa: S311 - classes, not secrets
    staffed = set(rng.sample(range(STATIONS), 2))
    stations = tuple(
        AskedStation(one, f"Station {one}", rng.choice([2, 3, 3, 4]), int(one in staffed))
        for one in range(STATIONS)
    )
    adults = tuple(AskedAdult(200 + one, f"Aide {one}", 100 + one if one < 2 else None) for one in range(AIDES))
    return RotationAsked(
        stations,
        tuple(_student(rng, one) for one in range(STUDENTS)),
        adults,
        ROUNDS,
        help_by,
        apart=frozenset(frozenset(100 + one for one in rng.sample(range(STUDENTS), 2)) for _ in range(3)),
        waits_at_most=1,
        rules=ALL_RULES - {RotationRule.ONCE},
    )


def _student(rng: random.Random, index: int) -> AskedStudent:
    barred = frozenset([rng.randrange(STATIONS)]) if rng.random() < 0.2 else frozenset[int]()
    goals = rng.sample(range(STATIONS), rng.randint(2, 4))
    wants = {one: rng.randint(1, 61) for one in goals if one not in barred}
    return AskedStudent(100 + index, f"Student {index}", wants, barred, one_to_one=index < 2, adult_near=index == 2)


def main() -> None:
    """Print one line a class, then a change of the morning."""
    for help_by in HelpBy:
        for seed in range(CLASSES):
            asked = large_class(seed, help_by)
            found, seconds = _timed(asked)
            print(f"{help_by:14} class {seed}: {seconds:5.2f} s  {_figures(found)}  clash {_clash_seconds(asked)}")
            today = replace(asked, adults=asked.adults[:-1])
            begun = time.process_time()
            changed = rotation_solve(today, found.arrangement)
            print(f"{'':23} an aide less: {time.process_time() - begun:5.2f} s, {changed.changes} changes")


def _timed(asked: RotationAsked) -> tuple[RotationFound, float]:
    begun = time.process_time()
    found = rotation_solve(asked)
    seconds = time.process_time() - begun
    broken = {one.rule for one in rotation_judge(asked, found.arrangement) if not one.is_counted}
    if broken:
        raise AssertionError(f"the judge refuses {sorted(map(str, broken))}")
    return found, seconds


def _figures(found: RotationFound) -> str:
    figures = found.figures
    return (
        f"{'proved' if found.proved else 'not proved'}, over {figures.over}, missed {len(figures.missed)}, "
        f"waits {figures.waits}, again {figures.again}, walks {figures.walks}"
    )


def _clash_seconds(asked: RotationAsked) -> str:
    begun = time.process_time()
    clash = rotation_clash(asked)
    seconds = time.process_time() - begun
    return f"{seconds:.2f} s, {len(clash.wishes) if clash else 'no'} wishes"


if __name__ == "__main__":
    main()
