"""The sums that a search makes small: walks, second visits, old data late in the hour, changes."""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.stations.rotation.asked import OLD_DATA, Arrangement, Post, RotationRule
from schedule.stations.rotation.model import RotationModel, Sum, total

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")


def walked(made: RotationModel, students: Collection[int]) -> Sum:
    """Places walked by these students. Each pair of rounds is a flow from place to place, which bounds well."""
    terms: list[Sum] = []
    for student in students:
        for turn, following in pairwise(made.turns_of(student)):
            if following == turn + 1:
                terms += _steps(made, student, turn)
    return total(terms)


def _steps(made: RotationModel, student: int, turn: int) -> list[Sum]:
    asked, terms = made.asked, []
    keys = [one.key for one in asked.stations]
    leaving: dict[int | None, list[cp_model.IntVar]] = {key: [] for key in [*keys, None]}
    coming: dict[int | None, list[cp_model.IntVar]] = {key: [] for key in [*keys, None]}
    for origin in leaving:
        for target in coming:
            if origin is not None and origin == target and asked.has(RotationRule.ONCE):
                continue
            step = made.model.new_bool_var("")
            leaving[origin].append(step)
            coming[target].append(step)
            terms.append(asked.walk(origin, target) * step)
    for key in leaving:
        made.model.add(total(leaving[key]) == _place(made, student, turn, key))
        made.model.add(total(coming[key]) == _place(made, student, turn + 1, key))
    return terms


def _place(made: RotationModel, student: int, turn: int, key: int | None) -> cp_model.IntVar:
    return made.waits[student, turn] if key is None else made.at[student, turn, key]


def repeated(made: RotationModel) -> Sum:
    """Visits to a station beyond a student's first."""
    if made.asked.has(RotationRule.ONCE):
        return total([])
    terms: list[Sum] = []
    for student in made.asked.students:
        for station in made.asked.stations:
            visits = [made.at[student.key, turn, station.key] for turn in made.turns_of(student.key)]
            if len(visits) > 1:
                again = made.model.new_int_var(0, len(visits) - 1, "")
                made.model.add(total(visits) <= 1 + again)
                terms.append(again)
    return total(terms)


def posted(made: RotationModel) -> Sum:
    """Adults who have a post beside students' own: who isn't needed at one stays free to help."""
    return total([*made.stands.values(), *made.along.values()])


def late(made: RotationModel, students: Collection[int]) -> Sum:
    """Rounds until these students' goals with old data have their turn: one counts as much as one place walked."""
    return total(
        turn * made.at[student.key, turn, station]
        for student in made.asked.students
        for station, weight in student.wants.items()
        if student.key in students and weight >= OLD_DATA
        for turn in made.turns_of(student.key)
    )


def changed(made: RotationModel, before: Arrangement) -> Sum:
    """Students' rounds and adults' posts that aren't as they were, of those who are in both."""
    terms: list[Sum] = []
    for cell in made.asked.cells:
        if cell in before.at:
            place = before.at[cell]
            same = made.waits[cell] if place is None else made.at.get((*cell, place), total([]))
            terms.append(1 - total([same]))
    adults = [one.key for one in made.asked.adults if one.key in before.posts]
    terms += [1 - _as_before(made, key, before.posts[key]) for key in adults]
    return total(terms)


def _as_before(made: RotationModel, adult: int, post: Post) -> Sum:
    if post.student is not None:
        kind = made.own if post.one_to_one else made.along
        return kind.get((adult, post.student), total([]))
    if post.station is not None:
        return made.stands.get((adult, post.station), total([]))
    return 1 - total(made.posts_of(adult))


def settled(made: RotationModel, before: Arrangement) -> None:
    """What is over stays as it was."""
    for student, turn in made.asked.cells:
        if turn < made.asked.done and (student, turn) in before.at:
            place = before.at[student, turn]
            made.model.add(_place(made, student, turn, place) == 1)
