"""The variables of a rotation's CP-SAT model: who is where, what adults do, and switches of wishes.

A model ``for_clash`` gives each wish a switch, so that the smallest set of wishes that can't all hold can be looked
for; otherwise wishes simply hold, but goals, waiting beyond the allowed, and waiting beside whom one should be kept
apart from are counted: everybody may wait, so that there always is a rotation.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.stations.rotation.asked import (
    Arrangement,
    AskedAdult,
    HelpBy,
    Post,
    RotationAsked,
)
from schedule.stations.rotation.wishes import Wish

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")

type Sum = cp_model.LinearExpr
type Where = tuple[int, int, int]
"""Who (student or adult), round, station."""


def new_model() -> cp_model.CpModel:
    """A model without anything."""
    return cp_model.CpModel()


def total(terms: Iterable[Sum]) -> Sum:
    """A sum that is one of the solver's even where it has no terms."""
    return cp_model.LinearExpr.sum(list(terms))


def solver_for(effort: float, *, relaxed: bool = False) -> cp_model.CpSolver:
    """A solver whose work is measured by its own clock: a busy machine finds what a quiet one does.

    ``relaxed``: bounds by linear relaxations. They prove second visits where adults stand at stations; everywhere
    else they used half of the work on large classes and found less.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    solver.parameters.linearization_level = int(relaxed)
    return solver


@dataclass(slots=True)
class RotationModel:
    """The variables: students' places and waits, adults' stations and students, and what is counted.

    Counted are goals missed, rounds waited beyond the allowed, and rounds in which two to be kept apart both wait.
    """

    asked: RotationAsked
    for_clash: bool = False
    model: cp_model.CpModel = field(default_factory=new_model)
    at: dict[Where, cp_model.IntVar] = field(default_factory=dict)
    waits: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    stands: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    along: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    own: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    helping: dict[tuple[int, int], list[cp_model.IntVar]] = field(default_factory=lambda: defaultdict(list))
    missed: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    over: dict[int, cp_model.IntVar] = field(default_factory=dict)
    beside: dict[Where, cp_model.IntVar] = field(default_factory=dict)
    switches: dict[Wish, cp_model.IntVar] = field(default_factory=dict)

    def hold(self, wish: Wish, rule: cp_model.BoundedLinearExpression | bool) -> None:
        """Let a constraint hold, or hold while the wish is switched on."""
        constraint = self.model.add(rule)
        if self.for_clash:
            if wish not in self.switches:
                self.switches[wish] = self.model.new_bool_var("")
            constraint.only_enforce_if(self.switches[wish])

    def turns_of(self, student: int) -> tuple[int, ...]:
        """Rounds in which the student is there."""
        away = self.asked.student(student).away
        return tuple(turn for turn in range(self.asked.rounds) if turn not in away)

    def posts_of(self, adult: int) -> list[cp_model.IntVar]:
        """Everything that an adult can be told to do."""
        kinds = (self.stands, self.along, self.own)
        return [var for kind in kinds for (who, _), var in kind.items() if who == adult]

    def own_of(self, student: int) -> Sum:
        """Adults of the student's own."""
        return total(var for (_, whose), var in self.own.items() if whose == student)

    @property
    def ahead(self) -> range:
        """Rounds that aren't over."""
        return range(self.asked.done, self.asked.rounds)


def places_add(made: RotationModel) -> None:
    """Each student that is there is at one station, or waits."""
    model = made.model
    for student, turn in made.asked.cells:
        for station in made.asked.stations:
            made.at[student, turn, station.key] = model.new_bool_var("")
        made.waits[student, turn] = model.new_bool_var("")
        here = [made.at[student, turn, station.key] for station in made.asked.stations]
        model.add_exactly_one([*here, made.waits[student, turn]])


def posts_add(made: RotationModel) -> None:
    """Each adult stands at one station, goes along with one student, is one student's own, or none of these."""
    asked, model = made.asked, made.model
    for adult in asked.adults:
        if adult.own_student is None and (asked.help_by is HelpBy.AT_STATIONS or adult.leads is not None):
            for station in asked.stations:
                made.stands[adult.key, station.key] = model.new_bool_var("")
        for student in asked.students:
            _beside(made, adult, student.key, one_to_one=student.one_to_one)
        model.add_at_most_one(made.posts_of(adult.key))
        _told(made, adult)
    for adult in asked.adults:
        _whereabouts(made, adult)


def _beside(made: RotationModel, adult: AskedAdult, student: int, *, one_to_one: bool) -> None:
    if adult.leads is not None or adult.own_student not in {None, student}:
        return
    if one_to_one or adult.own_student == student:
        made.own[adult.key, student] = made.model.new_bool_var("")
    elif made.asked.help_by is HelpBy.WITH_STUDENTS:
        made.along[adult.key, student] = made.model.new_bool_var("")


def _told(made: RotationModel, adult: AskedAdult) -> None:
    """What was agreed or told stands: a student's own adult, an adult who leads a station."""
    if adult.own_student is not None:
        made.model.add(made.own[adult.key, adult.own_student] == 1)
    elif adult.leads is not None:
        made.model.add(made.stands[adult.key, adult.leads] == 1)


def _whereabouts(made: RotationModel, adult: AskedAdult) -> None:
    """Where an adult who counts for a station is in each round: its own station, or where the student is."""
    for (who, station), stands in made.stands.items():
        for turn in made.ahead:
            if who == adult.key:
                made.helping[turn, station].append(stands)
    along = {student: var for (who, student), var in made.along.items() if who == adult.key}
    for turn in made.ahead if along else ():
        _goes_along(made, along, turn)


def _goes_along(made: RotationModel, along: Mapping[int, cp_model.IntVar], turn: int) -> None:
    """In one round an adult who goes along with a student is where that student is."""
    near = any(one.adult_near for one in made.asked.students)
    here = {one.key: made.model.new_bool_var("") for one in made.asked.stations if one.staff or near}
    made.model.add(total(here.values()) <= total(along.values()))
    for key, var in here.items():
        made.helping[turn, key].append(var)
        for student, beside in along.items():
            made.model.add(var + beside - made.at.get((student, turn, key), total([])) <= 1)


def arrangement_of(made: RotationModel, solver: cp_model.CpSolver) -> Arrangement:
    """What a solver found, as plain values."""
    at: dict[tuple[int, int], int | None] = dict.fromkeys(made.asked.cells)
    for (student, turn, station), var in made.at.items():
        if solver.boolean_value(var):
            at[student, turn] = station
    posts = {adult.key: Post() for adult in made.asked.adults}
    for (adult, station), var in made.stands.items():
        if solver.boolean_value(var):
            posts[adult] = Post(station=station)
    for one_to_one, kind in ((False, made.along), (True, made.own)):
        for (adult, student), var in kind.items():
            if solver.boolean_value(var):
                posts[adult] = Post(student=student, one_to_one=one_to_one)
    return Arrangement(at, posts)
