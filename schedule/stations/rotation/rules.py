"""The rules of a rotation in its CP-SAT model, one function for each, held wish by wish."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.stations.rotation.asked import RotationAsked, RotationRule
from schedule.stations.rotation.model import RotationModel, Sum, places_add, posts_add, total
from schedule.stations.rotation.wishes import Wish

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")


def _goals(made: RotationModel) -> None:
    """A student comes once to each station that serves a goal; else it counts as missed."""
    for student in made.asked.students:
        for station in student.wants:
            visits = total(made.at[student.key, turn, station] for turn in made.turns_of(student.key))
            if made.for_clash:
                made.hold(Wish(RotationRule.GOALS, (student.key,), station), visits >= 1)
                continue
            made.missed[student.key, station] = made.model.new_bool_var("")
            made.model.add(visits + made.missed[student.key, station] >= 1)


def _at_a_time(made: RotationModel) -> None:
    """A station takes so many students at a time."""
    for station in made.asked.stations:
        for turn in made.ahead:
            here = total(_there(made, turn, station.key))
            made.hold(Wish(RotationRule.AT_A_TIME, (), station.key), here <= station.at_a_time)


def _there(made: RotationModel, turn: int, station: int) -> list[cp_model.IntVar]:
    keys = [one.key for one in made.asked.students if turn not in one.away]
    return [made.at[key, turn, station] for key in keys]


def _adults(made: RotationModel, turn: int, station: int) -> Sum:
    return total(made.helping[turn, station])


def _staff(made: RotationModel) -> None:
    """A station has its adults whenever a student is there."""
    for station in made.asked.stations:
        if not station.staff:
            continue
        for turn in made.ahead:
            adults, used = _adults(made, turn, station.key), made.model.new_bool_var("")
            for var in _there(made, turn, station.key):
                made.model.add_implication(var, used)
            made.hold(Wish(RotationRule.STAFF, (), station.key), adults >= station.staff * used)


def _one_to_one(made: RotationModel) -> None:
    """A student with an adult of their own is at a station only with one."""
    for student in made.asked.students:
        if student.one_to_one:
            own = made.own_of(student.key)
            for var in _ahead_of(made, student.key):
                made.hold(Wish(RotationRule.ONE_TO_ONE, (student.key,)), own >= var)


def _ahead_of(made: RotationModel, student: int) -> list[cp_model.IntVar]:
    return [var for (who, turn, _), var in made.at.items() if who == student and turn in made.ahead]


def _adult_near(made: RotationModel) -> None:
    """A student who needs an adult near is at stations where one is, or has one of their own."""
    for student in made.asked.students:
        if not student.adult_near:
            continue
        own = made.own_of(student.key)
        for turn in set(made.turns_of(student.key)) & set(made.ahead):
            for station in made.asked.stations:
                near = own + _adults(made, turn, station.key)
                wish = Wish(RotationRule.ADULT_NEAR, (student.key,))
                made.hold(wish, near >= made.at[student.key, turn, station.key])


def _apart(made: RotationModel) -> None:
    """Two students to be kept apart aren't at one station in one round, and don't wait in one; else that counts."""
    for first, second in _pairs(made.asked.apart):
        for turn in _both_turns(made, first, second):
            _not_both_wait(made, first, second, turn)
        for turn, station in _both(made, first, second):
            both = made.at[first, turn, station] + made.at[second, turn, station]
            made.hold(Wish(RotationRule.APART, (first, second)), both <= 1)


def _not_both_wait(made: RotationModel, first: int, second: int, turn: int) -> None:
    waiting = made.waits[first, turn] + made.waits[second, turn]
    if made.for_clash:
        made.hold(Wish(RotationRule.APART, (first, second)), waiting <= 1)
        return
    made.beside[first, second, turn] = made.model.new_bool_var("")
    made.model.add(waiting <= 1 + made.beside[first, second, turn])


def _together(made: RotationModel) -> None:
    """Two students who go together are at the same station whenever both are there."""
    for first, second in _pairs(made.asked.together):
        for turn, station in _both(made, first, second):
            same = made.at[first, turn, station] == made.at[second, turn, station]
            made.hold(Wish(RotationRule.TOGETHER, (first, second)), same)


def _pairs(pairs: Iterable[frozenset[int]]) -> list[tuple[int, int]]:
    return sorted((min(pair), max(pair)) for pair in pairs)


def _both_turns(made: RotationModel, first: int, second: int) -> list[int]:
    return sorted(set(made.turns_of(first)) & set(made.turns_of(second)) & set(made.ahead))


def _both(made: RotationModel, first: int, second: int) -> list[tuple[int, int]]:
    shared = _both_turns(made, first, second)
    return [(turn, station.key) for turn in shared for station in made.asked.stations]


def _cautions(made: RotationModel) -> None:
    """A student isn't at a station that meets a caution while nobody was asked."""
    for student in made.asked.students:
        for station in sorted(student.barred):
            for turn in set(made.turns_of(student.key)) & set(made.ahead):
                made.hold(
                    Wish(RotationRule.CAUTIONS, (student.key,), station), made.at[student.key, turn, station] == 0
                )


def _waits(made: RotationModel) -> None:
    """Nobody waits longer than the teacher allows; else the rounds beyond count."""
    for student in made.asked.students:
        waited = total(made.waits[student.key, turn] for turn in made.turns_of(student.key))
        if made.for_clash:
            made.hold(Wish(RotationRule.WAITS), waited <= made.asked.waits_at_most)
            continue
        made.over[student.key] = made.model.new_int_var(0, made.asked.rounds, "")
        made.model.add(waited <= made.asked.waits_at_most + made.over[student.key])


def _once(made: RotationModel) -> None:
    """A student comes to a station at most once."""
    for student in made.asked.students:
        for station in made.asked.stations:
            visits = [made.at[student.key, turn, station.key] for turn in made.turns_of(student.key)]
            made.hold(Wish(RotationRule.ONCE), total(visits) <= 1)


RULES = {
    RotationRule.GOALS: _goals,
    RotationRule.AT_A_TIME: _at_a_time,
    RotationRule.STAFF: _staff,
    RotationRule.ONE_TO_ONE: _one_to_one,
    RotationRule.ADULT_NEAR: _adult_near,
    RotationRule.APART: _apart,
    RotationRule.TOGETHER: _together,
    RotationRule.CAUTIONS: _cautions,
    RotationRule.WAITS: _waits,
    RotationRule.ONCE: _once,
}


def rotation_model(asked: RotationAsked, *, for_clash: bool = False) -> RotationModel:
    """The model of what is asked, without anything to make small."""
    made = RotationModel(asked, for_clash)
    places_add(made)
    posts_add(made)
    for rule, held in RULES.items():
        if asked.has(rule):
            held(made)
    return made
