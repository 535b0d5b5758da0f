"""Small classes for tests of rotations, and every arrangement of one, by counting them out."""

import itertools
import random
from collections.abc import Iterator

from schedule.stations.rotation.asked import (
    Arrangement,
    AskedAdult,
    AskedStation,
    AskedStudent,
    HelpBy,
    Post,
    RotationAsked,
    RotationRule,
)


def tiny(seed: int, help_by: HelpBy, rules: frozenset[RotationRule]) -> RotationAsked:
    """Three students, two stations, two rounds, an aide who is free, and sometimes one who is a student's own."""
    rng = random.Random(seed)  # noqa: S311 - classes, not secrets
    stations = (AskedStation(1, "Balance", rng.choice([1, 2]), 1), AskedStation(2, "Throwing", rng.choice([1, 2])))
    students = tuple(
        AskedStudent(
            key,
            f"S{key}",
            {one: rng.choice([3, 10, 30]) for one in (1, 2) if rng.random() < 0.7},
            frozenset({rng.choice([1, 2])} if rng.random() < 0.3 else ()),
            one_to_one=key == 13 and rng.random() < 0.6,
            adult_near=rng.random() < 0.3,
            away=frozenset({0} if rng.random() < 0.15 else ()),
        )
        for key in (11, 12, 13)
    )
    adults: tuple[AskedAdult, ...] = (AskedAdult(21, "A"),)
    if rng.random() < 0.4:
        adults += (AskedAdult(22, "B", own_student=13),)
    apart, together = rng.choice([((11, 12), (12, 13)), ((12, 13), (11, 12)), ((11, 13), (12, 13))])
    return RotationAsked(
        stations,
        students,
        adults,
        rounds=2,
        help_by=help_by,
        apart=frozenset({frozenset(apart)}),
        together=frozenset({frozenset(together)} if rng.random() < 0.5 else ()),
        waits_at_most=rng.choice([0, 1]),
        rules=rules,
    )


def every_arrangement(asked: RotationAsked) -> Iterator[Arrangement]:
    """All that can be written down: each student anywhere in each round, each adult doing anything allowed."""
    places = [None, *(one.key for one in asked.stations)]
    posts = [_posts(asked, adult) for adult in asked.adults]
    for where in itertools.product(places, repeat=len(asked.cells)):
        at = dict(zip(asked.cells, where, strict=True))
        for doing in itertools.product(*posts):
            yield Arrangement(at, {one.key: post for one, post in zip(asked.adults, doing, strict=True)})


def _posts(asked: RotationAsked, adult: AskedAdult) -> list[Post]:
    if adult.own_student is not None:
        return [Post(student=adult.own_student, one_to_one=True)]
    found = [Post()]
    found += [Post(student=one.key, one_to_one=True) for one in asked.students if one.one_to_one]
    if asked.help_by is HelpBy.AT_STATIONS:
        return found + [Post(station=one.key) for one in asked.stations]
    return found + [Post(student=one.key) for one in asked.students if not one.one_to_one]
