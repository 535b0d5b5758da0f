"""A rotation as a version keeps it: plain values, students by id only; whoever reads it gives labels again."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

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


@dataclass(frozen=True, slots=True)
class KeptRotation:
    """What was asked, who is where, and how sure the search was of it. ``minutes`` are those of a round.

    ``by_hand``: somebody moved a student after the search. ``changes`` against the version before.
    """

    asked: RotationAsked
    arrangement: Arrangement
    minutes: int
    proved: bool = False
    walks_proved: bool = False
    changes: int = 0
    by_hand: bool = False


def rotation_json(kept: KeptRotation) -> dict[str, Any]:
    """As JSON keeps it."""
    asked, made = kept.asked, kept.arrangement
    return {
        "stations": [
            {"key": one.key, "label": one.label, "at_a_time": one.at_a_time, "staff": one.staff}
            for one in asked.stations
        ],
        "students": [_student_json(one) for one in asked.students],
        "adults": [
            {"key": one.key, "label": one.label, "own_student": one.own_student, "leads": one.leads}
            for one in asked.adults
        ],
        "rounds": asked.rounds,
        "minutes": kept.minutes,
        "help_by": asked.help_by.value,
        "apart": sorted(sorted(pair) for pair in asked.apart),
        "together": sorted(sorted(pair) for pair in asked.together),
        "waits_at_most": asked.waits_at_most,
        "done": asked.done,
        "rules": sorted(asked.rules),
        "at": [[student, turn, station] for (student, turn), station in sorted(made.at.items())],
        "posts": {
            str(key): {"station": post.station, "student": post.student, "one_to_one": post.one_to_one}
            for key, post in made.posts.items()
        },
        "proved": kept.proved,
        "walks_proved": kept.walks_proved,
        "changes": kept.changes,
        "by_hand": kept.by_hand,
    }


def _student_json(one: AskedStudent) -> dict[str, Any]:
    return {
        "key": one.key,
        "wants": {str(station): days for station, days in one.wants.items()},
        "barred": sorted(one.barred),
        "one_to_one": one.one_to_one,
        "adult_near": one.adult_near,
        "away": sorted(one.away),
    }


def rotation_read(kept: Mapping[str, Any], labels: Mapping[int, str]) -> KeptRotation:
    """What was kept, with students called as ``labels`` says (by id); who isn't in it may not be named."""
    asked = RotationAsked(
        stations=tuple(AskedStation(**one) for one in kept["stations"]),
        students=tuple(_student_read(one, labels) for one in kept["students"]),
        adults=tuple(AskedAdult(**one) for one in kept["adults"]),
        rounds=kept["rounds"],
        help_by=HelpBy(kept["help_by"]),
        apart=frozenset(frozenset(pair) for pair in kept["apart"]),
        together=frozenset(frozenset(pair) for pair in kept["together"]),
        waits_at_most=kept["waits_at_most"],
        done=kept["done"],
        rules=frozenset(RotationRule(one) for one in kept["rules"]),
    )
    at = {(student, turn): station for student, turn, station in kept["at"]}
    posts = {int(key): Post(**post) for key, post in kept["posts"].items()}
    figures = {name: kept[name] for name in ("minutes", "proved", "walks_proved", "changes", "by_hand")}
    return KeptRotation(asked, Arrangement(at, posts), **figures)


def _student_read(one: Mapping[str, Any], labels: Mapping[int, str]) -> AskedStudent:
    return AskedStudent(
        one["key"],
        labels.get(one["key"], "A student"),
        {int(station): days for station, days in one["wants"].items()},
        frozenset(one["barred"]),
        one["one_to_one"],
        one["adult_near"],
        frozenset(one["away"]),
    )
