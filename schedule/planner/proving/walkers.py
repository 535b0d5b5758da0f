"""All days walked at once, each in a thread of its own, and ended within a moment when the time is up.

Threads are enough: the walks are compiled and hold no interpreter lock. A compiled loop can't look at a clock or
call back, so it looks at one number of its day's graph, label by label, and somebody else looks at the clock. Work
is counted by who does it: each day is told how much it may take.
"""

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, field

from schedule.planner.proving.columns import Bounded, DayGraph, Weights
from schedule.planner.result import Ended
from schedule.planner.week.model import Model
from schedule.planner.week.work import HaltedError

LOOK_EVERY = 0.1
"""Seconds between two looks at the clock while days are walked."""

TIMES_ITS_SHARE = 2.0
"""Of the work that is left a day takes up to so many times its equal share: most days take far less."""


@dataclass(slots=True)
class Walkers:
    """The days' graphs and the means to walk all of them at once, until nothing is ``remaining``.

    ``by_work``: what remains are seconds of work, of which a day may take ``TIMES_ITS_SHARE``.
    """

    model: Model
    workers: int
    every_start: bool
    remaining: Callable[[], float]
    by_work: bool = False
    graphs: list[DayGraph] = field(default_factory=list)

    def __post_init__(self) -> None:
        for day in self.model.days:
            if self.halted():
                return
            try:
                self.graphs.append(DayGraph(day, every_start=self.every_start, halted=self.halted))
            except HaltedError:
                return

    @property
    def usable(self) -> bool:
        """Whether every day's services fit in a mask, and there was time to lay out every day."""
        return self.laid_out and self.misfit is None

    @property
    def misfit(self) -> Ended | None:
        """Why a day can't be walked, where one can't."""
        return next((graph.misfit for graph in self.graphs if graph.misfit is not None), None)

    @property
    def laid_out(self) -> bool:
        """Whether there was time to lay out every day."""
        return len(self.graphs) == len(self.model.days)

    def halted(self) -> bool:
        """Whether the time is up."""
        return self.remaining() <= 0

    def each[T](self, task: Callable[[DayGraph], T]) -> list[T]:
        """The task for every day, in the order of days whatever the number of workers.

        Raises ``HaltedError`` once the time is up, or a day has taken as much work as it may: walks under way end
        at once, and nothing of them counts.
        """
        share = TIMES_ITS_SHARE * self.remaining() / max(1, len(self.graphs)) if self.by_work else math.inf
        for graph in self.graphs:
            graph.may_take(share)
        with ThreadPoolExecutor(max(1, self.workers)) as pool:
            tasks = [pool.submit(task, graph) for graph in self.graphs]
            while not (halted := self.halted()) and wait(tasks, timeout=LOOK_EVERY).not_done:
                pass
            for graph in self.graphs:
                graph.halt[0] = halted
        if self._taken_stock() or halted:
            raise HaltedError
        return [one.result() for one in tasks]

    def _taken_stock(self) -> bool:
        """Count what the days' walks took and let them go on; whether one of them was cut off."""
        for graph in self.graphs:
            graph.halt[0] = False
            self.model.work.add(graph.work)
            graph.work = 0
        return any(graph.was_cut for graph in self.graphs)

    def bounded(self, weights: list[Weights], shares: list[float], *, no_miss: bool) -> list[Bounded]:
        """Every day's backward walk."""

        def one_day(graph: DayGraph) -> Bounded:
            day = graph.day.index
            return graph.bounded(weights[day], shares[day], 0.0, no_miss=no_miss)

        return self.each(one_day)
