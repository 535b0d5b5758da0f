"""The exact search for a rotation: sums are made small one after the other, each kept while the next is.

First, exactly: rounds in which two to be kept apart both wait, rounds waited beyond what is allowed, then what
missed goals weigh (the oldest data most), then rounds waited. Where a rotation that was made has to change, fewest
changes come before the goals, or after them. Then second visits, and last the walks with goals whose data are old
early in the hour: these as good as the work allows, and said. Work is measured by the solver's own clock of work,
so a busy machine finds the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.stations.rotation.asked import Arrangement, HelpBy, RotationAsked, RotationFound
from schedule.stations.rotation.judging import figures_of
from schedule.stations.rotation.model import RotationModel, Sum, arrangement_of, solver_for, total
from schedule.stations.rotation.rules import rotation_model
from schedule.stations.rotation.sums import changed, late, posted, repeated, settled, walked

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")

FIRST_EFFORT = 10.0
"""Work for what comes first, in the solver's own seconds (about those of a processor); it takes far less."""

REPEAT_EFFORT = 0.25
WALK_EFFORT = 0.5
PART_EFFORT = 0.1

PROVED_STEPS = 2000
"""Up to so many ways from place to place, walks are made shortest for all students at once, and mostly proved.

Above, they are shortened for a few students at a time, and never said to be shortest.
"""

STUDENTS_AT_ONCE = 3


class ChangeAim(StrEnum):
    """What comes first where a rotation that was made has to change."""

    FEWEST_CHANGES = "fewest_changes"
    GOALS = "goals"


@dataclass(slots=True)
class _Search:
    """One model with its last solution and how far the sums were proved."""

    made: RotationModel
    found: Arrangement | None = None

    def smallest(self, figure: Sum, effort: float, *, relaxed: bool = False) -> bool:
        """Make a sum small and keep it so; whether it was proved. The first sum always finds something."""
        model = self.made.model
        model.minimize(figure)
        solver = solver_for(effort, relaxed=relaxed)
        status = solver.solve(model)
        if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            return False
        self.found = arrangement_of(self.made, solver)
        model.add(figure <= round(solver.objective_value))
        self._begin_from(model, solver)
        return status == cp_model.OPTIMAL

    def _begin_from(self, model: cp_model.CpModel, solver: cp_model.CpSolver) -> None:
        """Let the next search begin where this one ended."""
        model.clear_hints()  # type: ignore[no-untyped-call] # the library's own
        for var in (*self.made.at.values(), *self.made.stands.values(), *self.made.along.values()):
            model.add_hint(var, solver.value(var))

    def walk_shorter(self, students: list[int]) -> None:
        """Let a few students walk other ways while all others and the adults stay."""
        if self.found is None:
            return
        whole, self.made.model = self.made.model, self.made.model.clone()
        for (student, turn, station), var in self.made.at.items():
            if student not in students:
                self.made.model.add(var == (self.found.at[student, turn] == station))
        self.made.model.minimize(walked(self.made, students) + late(self.made, students))
        solver = solver_for(PART_EFFORT)
        if solver.solve(self.made.model) in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            self.found = arrangement_of(self.made, solver)
        self.made.model = whole


def rotation_solve(
    asked: RotationAsked, before: Arrangement | None = None, *, aim: ChangeAim = ChangeAim.FEWEST_CHANGES
) -> RotationFound:
    """The best rotation; near ``before`` where that is given. There always is one: everybody may wait.

    Raises ``ValueError`` if ``before`` can't stand in the rounds that are over.
    """
    made = rotation_model(asked)
    search = _Search(made)
    if before is not None:
        settled(made, before)
    proved = search.smallest(_first_sum(made, before, aim), FIRST_EFFORT)
    if search.found is None:
        raise ValueError("What is over can't have been as it says.")
    search.smallest(repeated(made) + posted(made), REPEAT_EFFORT, relaxed=asked.help_by is HelpBy.AT_STATIONS)
    walks_proved = _shorter_walks(search)
    changes = 0 if before is None else changes_between(asked, before, search.found)
    return RotationFound(search.found, figures_of(asked, search.found), proved, walks_proved, changes)


def _shorter_walks(search: _Search) -> bool:
    """Shorten the walks within what was found before them; whether they were proved shortest."""
    made = search.made
    keys = [one.key for one in made.asked.students]
    if len(made.asked.cells) * len(made.asked.stations) ** 2 <= PROVED_STEPS:
        return search.smallest(walked(made, keys) + late(made, keys), WALK_EFFORT)
    for turn in range(2):
        order = keys if not turn else keys[::2] + keys[1::2]
        for start in range(0, len(order), STUDENTS_AT_ONCE):
            search.walk_shorter(order[start : start + STUDENTS_AT_ONCE])
    return False


def _first_sum(made: RotationModel, before: Arrangement | None, aim: ChangeAim) -> Sum:
    """What comes first as one sum: each part weighs more than everything after it can."""
    asked, cells = made.asked, len(made.asked.cells) + 1
    most = cells * (1 + sum(sum(one.wants.values()) for one in asked.students))
    over = cells * total(made.beside.values()) + total(made.over.values())
    weight = total(asked.student(who).wants[where] * var for (who, where), var in made.missed.items())
    goals = cells * weight + total(made.waits.values())
    if before is None:
        return most * over + goals
    changes, changed_most = changed(made, before), cells + len(asked.adults) + 1
    if aim is ChangeAim.FEWEST_CHANGES:
        return most * (changed_most * over + changes) + goals
    return changed_most * (most * over + goals) + changes


def changes_between(asked: RotationAsked, before: Arrangement, after: Arrangement) -> int:
    """Rounds of students and posts of adults that aren't as they were, of those who are in both."""
    cells = sum(cell in before.at and before.at[cell] != after.at[cell] for cell in asked.cells)
    return cells + sum(
        one.key in before.posts and before.posts[one.key] != after.posts[one.key] for one in asked.adults
    )
