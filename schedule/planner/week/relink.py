"""Path relinking: weeks on the way from one week to another, one session after the other.

After F. Glover (1997), "A template for scatter search and path relinking". The week that drives least is kept for
each number of sessions moved.
"""

import random
from collections.abc import Callable

from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures
from schedule.planner.week.forcing import weeks_with
from schedule.planner.week.improve import improve
from schedule.planner.week.state import WeekState

ROUNDS = 40
"""Rounds of large neighborhood search from each week kept."""

type Visit = tuple[int, int]
"""(day, node)"""


class Archive:
    """The week that drives least for each number of sessions moved, of those with certain values of other goals."""

    def __init__(self, before: tuple[Goal, ...], values: tuple[int, ...]) -> None:
        self.before, self.values = before, values
        self.best: dict[int, tuple[int, WeekState]] = {}

    def see(self, week: WeekState) -> GoalFigures:
        """Keep the week if it is one of the best; its figures."""
        figures = week.figures
        if tuple(figures.of(goal) for goal in self.before) == self.values:
            known = self.best.get(figures.change)
            if known is None or figures.driving < known[0]:
                self.best[figures.change] = figures.driving, week
        return figures

    def front(self) -> list[WeekState]:
        """Weeks that no other beats in both, by sessions moved."""
        found: list[WeekState] = []
        least: int | None = None
        for _, (driving, week) in sorted(self.best.items(), key=lambda one: one[0]):
            if least is None or driving < least:
                least = driving
                found.append(week)
        return found

    def walk(self, origin: WeekState, target: WeekState, halted: Callable[[], bool]) -> None:
        """From one week to another: of the target's visits that are missing the cheapest is taken each time."""
        week = origin
        self.see(week)
        wanted = visits_of(target)
        for _ in range(len(wanted)):
            trials: list[tuple[tuple[int, ...], int, int, WeekState]] = []
            missing = sorted(wanted - visits_of(week))
            for number, (day, node) in enumerate(missing):
                if halted():
                    return
                for trial in weeks_with(week, day, node):
                    figures = self.see(trial)
                    left = len(wanted - visits_of(trial))
                    if left < len(missing):
                        rank = (*(figures.of(goal) for goal in self.before), figures.driving)
                        trials.append((rank, left, number, trial))
            if not trials:
                return
            week = min(trials, key=lambda one: one[:3])[3]

    def search(self, rng: random.Random, halted: Callable[[], bool]) -> None:
        """Some rounds of search from each week kept; every week tried on the way is looked at."""
        for week in self.front():
            if halted():
                return
            improve(week, rng, ROUNDS, halted, lambda _: None, self._look)

    def _look(self, week: WeekState) -> None:
        self.see(week)


def visits_of(week: WeekState) -> set[Visit]:
    """The movable visits of a week."""
    return {(day, node) for day in range(len(week.routes)) for node in week.movable(day)}
