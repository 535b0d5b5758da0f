"""Column generation over whole days, with a true bound in every round.

The Lagrangian bound after M. Desrochers, J. Desrosiers and M. Solomon (1992), Operations Research 40; the days are
relaxed to ng-routes (R. Baldacci, A. Mingozzi and R. Roberti, 2011, Operations Research 59) whose neighbourhoods
grow where a service is met twice (R. Roberti and A. Mingozzi, 2014, Transportation Science 48); duals are smoothed
towards those of the best bound (P. Wentges, 1997, International Transactions in Operational Research 4).
"""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, field

from schedule.planner.proving.columns import Bounded, DayGraph, PricedRoutes, Relaxed, Weights
from schedule.planner.proving.master import Master, Question
from schedule.planner.week.model import Model
from schedule.planner.week.routes import Route

ROUNDS = 600
ROUTES_A_ROUND = 30
RELAXED_A_ROUND = 6

type Level = tuple[float, int, int]

PRICING: tuple[Level, ...] = ((0.8, 40, 30_000), (0.3, 200, 30_000))
"""Levels of pricing: the share of the least reduced cost aimed at, labels a node, labels in all."""

SMOOTHING = 0.6
"""Share of the best bound's weights in those that are priced."""

UNSMOOTHED = 8
"""Every so many rounds the master's own weights are priced."""

CLOSE = 0.02
NEAR = 0.003
"""Minutes, and share of the value, between the master's value and the bound: near enough to look for cycles."""

REPEATS_A_ROUTE = 2
MOST_BACKWARD = 120_000
"""Labels of a day's backward walk beyond which no more is remembered."""

USED = 1e-4
FIRST_STEP = 0.25
LONGER = 1.2
LONGEST_STEP = 2.0
LEAST_STEP = 0.01
"""Steps of a day's share: halved where it turns round, longer where it goes on."""

LOOK_EVERY = 0.1
"""Seconds between two looks at the clock while days are walked."""


class HaltedError(Exception):
    """The time is up or a person stopped the search. Raised and caught inside the search only."""


type Key = tuple[int, tuple[int, ...], int]


def key_of(route: Route) -> Key:
    """What makes two routes the same: day, visits, and where lunch is."""
    return (route.day, route.visits, route.lunch_gap)


@dataclass(frozen=True, slots=True)
class Root:
    """The best Lagrangian bound with its duals: no day's reduced cost is below its ``least``.

    A plan of value ``v`` holds only columns of reduced cost at most ``least`` of their day plus ``v - bound``.
    ``shares`` are what each day's walk charged in advance for preparation.
    """

    bound: float
    weights: list[Weights]
    least: list[float]
    shares: list[float]
    value: float
    """The master's dual value under these weights: the bound without the days' least."""


@dataclass(slots=True)
class Walkers:
    """The days' graphs and the means to walk all of them at once, unless ``halted`` says that the time is up."""

    model: Model
    workers: int
    every_start: bool
    halted: Callable[[], bool]
    graphs: list[DayGraph] = field(default_factory=list)

    def __post_init__(self) -> None:
        for day in self.model.days:
            if self.halted():
                return
            self.graphs.append(DayGraph(day, every_start=self.every_start))

    @property
    def usable(self) -> bool:
        """Whether every day's services fit in a mask, and there was time to lay out every day."""
        return len(self.graphs) == len(self.model.days) and all(graph.fits for graph in self.graphs)

    def each[T](self, task: Callable[[DayGraph], T]) -> list[T]:
        """The task for every day, in the order of days whatever the number of workers.

        Raises ``HaltedError`` once ``halted`` says so: walks under way end at once, and nothing of them counts.
        """
        with ThreadPoolExecutor(max(1, self.workers)) as pool:
            tasks = [pool.submit(task, graph) for graph in self.graphs]
            while not (halted := self.halted()) and wait(tasks, timeout=LOOK_EVERY).not_done:
                pass
            for graph in self.graphs:
                graph.halt[0] = halted
        for graph in self.graphs:
            graph.halt[0] = False
        if halted:
            raise HaltedError
        return [one.result() for one in tasks]

    def bounded(self, weights: list[Weights], shares: list[float], *, no_miss: bool) -> list[Bounded]:
        """Every day's backward walk."""

        def one_day(graph: DayGraph) -> Bounded:
            day = graph.day.index
            return graph.bounded(weights[day], shares[day], 0.0, no_miss=no_miss)

        return self.each(one_day)


@dataclass(slots=True)
class Shares:
    """For each day the share of wished preparation that is charged in advance: sought as routes are seen."""

    values: list[float]
    steps: list[float]
    most: float
    moving: bool = False
    """Whether a share has just moved by more than a little."""

    @classmethod
    def of(cls, days: int, *, no_miss: bool) -> "Shares":
        """Half of a minute's charge at first."""
        return cls([0.5] * days, [FIRST_STEP] * days, math.inf if no_miss else 1.0)

    def learn(self, day: int, want: int, prepared: int) -> None:
        """More where a day's cheapest ng-route prepares too little, less where it prepares more than is wished."""
        if not want or prepared == want:
            return
        before, step = self.values[day], self.steps[day]
        up = prepared < want
        if up != (step > 0):
            step = -step / 2
        self.values[day] = min(self.most, max(0.0, before + step))
        self.steps[day] = step * LONGER if abs(step) < LONGEST_STEP else step
        self.moving = self.moving or abs(self.values[day] - before) > LEAST_STEP


class Generation:
    """Rounds of column generation for one question over a common pool of routes."""

    def __init__(
        self,
        walkers: Walkers,
        question: Question,
        pool: dict[Key, Route],
        check_time: Callable[[], None],
        tell: Callable[[str], None],
    ) -> None:
        self.walkers = walkers
        self.question = question
        self.pool = pool
        self.check_time = check_time
        self.tell = tell
        self.relaxed: dict[Route, Relaxed] = {}
        """Ng-routes that hold a service twice. They stay in the master: they serve bounds, never plans."""
        self.shares = Shares.of(len(walkers.model.days), no_miss=question.no_miss)
        self.root: Root | None = None
        self.remembering = True

    def run(self, on_bound: Callable[[float], bool], known: float = -math.inf) -> Root | None:
        """Rounds until no column is missing; ``on_bound`` hears of each better bound and may say that it is enough.

        No bound of these rounds is above the master's value: once that has come down to ``known`` they are over.

        Raises whatever ``check_time`` raises; what was learnt until then stays in ``pool`` and ``root``.
        """
        master = self._new_master([*self.pool.values(), *self.relaxed])
        smooth = True
        for number in range(ROUNDS):
            self.check_time()
            solved = master.solve()
            if solved is None:
                return self.root
            value, current = solved
            if value < known + CLOSE:
                return self.root
            smooth = smooth and number % UNSMOOTHED != 0
            bounds = self._bounds(value, current, smooth=smooth)
            if self.root is None or not _complete(bounds):
                return self.root
            self.tell(f"round {number + 1}: bound {self.root.bound:.2f} of {value:.2f}")
            if on_bound(self.root.bound):
                return self.root
            fresh = self._fresh(bounds)
            near = value - self.root.bound < max(CLOSE, NEAR * abs(value))
            # Near the end smoothed weights are as good: they lie between vertices, so fewer columns lie near them.
            stuck = not fresh and not self.shares.moving
            if near or (stuck and not smooth):
                kept = self._without_cycles(master, bounds)
                if kept is None and (value - self.root.bound < CLOSE or stuck):
                    return self.root
                master = master if kept is None else self._new_master(kept)
            smooth = bool(fresh) or not smooth
            master.add(fresh)
        return self.root

    def _new_master(self, routes: Iterable[Route]) -> Master:
        master = Master(self.walkers.model, self.question)
        master.add(routes)
        return master

    def _bounds(self, value: float, current: list[Weights], *, smooth: bool) -> list[Bounded]:
        """Walk the days under smoothed weights; keep the bound if it is the best."""
        center = self.root
        if center is None or not smooth:
            weights, total = current, value
        else:
            weights = _blend(center.weights, current, SMOOTHING)
            total = SMOOTHING * center.value + (1 - SMOOTHING) * value
        shares = list(self.shares.values)
        bounds = self.walkers.bounded(weights, shares, no_miss=self.question.no_miss)
        if _complete(bounds):
            least = [min(0.0, bound.least) for bound in bounds]
            if center is None or total + sum(least) > center.bound:
                self.root = Root(total + sum(least), weights, least, shares, total)
        return bounds

    def _fresh(self, bounds: list[Bounded]) -> list[Route]:
        """New columns: routes by quick pricing, and the cheapest ng-routes, mended ones beside them."""
        fresh: list[Route] = []
        self.shares.moving = False
        for level in PRICING:
            fresh = self._new(route for priced in self._price(bounds, level) for route in priced.routes)
            if fresh:
                break
        for graph, bound in zip(self.walkers.graphs, bounds, strict=True):
            found = graph.relaxed(bound, RELAXED_A_ROUND)
            if found:
                want = graph.day.day.preparation_minutes
                self.shares.learn(graph.day.index, want, found[0].route.preparation)
            for one in found:
                fresh += self._take(graph, one)
        return fresh

    def _new(self, routes: Iterable[Route]) -> list[Route]:
        """Those not in the pool yet, which they join."""
        fresh: list[Route] = []
        for route in routes:
            if key_of(route) not in self.pool:
                self.pool[key_of(route)] = route
                fresh.append(route)
        return fresh

    def _take(self, graph: DayGraph, one: Relaxed) -> list[Route]:
        if not graph.repeats(one.path):
            return self._new([one.route])
        if one.route in self.relaxed:
            return []
        self.relaxed[one.route] = one
        mended = graph.mended(one)
        return [one.route, *self._new([mended] if mended is not None else [])]

    def _price(self, bounds: list[Bounded], level: Level) -> list[PricedRoutes]:
        share, beam, limit = level

        def one_day(graph: DayGraph) -> PricedRoutes:
            bound = bounds[graph.day.index]
            return graph.price(
                bound,
                share * min(0.0, bound.least),
                no_miss=self.question.no_miss,
                beam=beam,
                max_labels=limit,
                most=ROUTES_A_ROUND,
            )

        return self.walkers.each(one_day)

    def _without_cycles(self, master: Master, bounds: list[Bounded]) -> list[Route] | None:
        """Remember the cycles of the ng-routes in use; the columns that are left, ``None`` without cycles."""
        self.remembering = self.remembering and all(b.suffixes.cost.shape[0] < MOST_BACKWARD for b in bounds)
        if not self.remembering:
            return None
        used = [self.relaxed[r] for r, v in master.shares() if v > USED and r in self.relaxed]
        if not used:
            return None
        graphs = self.walkers.graphs
        for one in used:
            graph = graphs[one.route.day]
            for repeat in graph.repeats(one.path)[:REPEATS_A_ROUTE]:
                graph.remember(one.path, repeat)
        self.relaxed = {r: one for r, one in self.relaxed.items() if graphs[r.day].still_relaxed(one.path)}
        return [*self.pool.values(), *self.relaxed]


def _complete(bounds: list[Bounded]) -> bool:
    return all(bound.suffixes.complete for bound in bounds)


def _blend(center: list[Weights], current: list[Weights], share: float) -> list[Weights]:
    """Weights between those of the best bound and the master's."""

    def between(a: float, b: float) -> float:
        return share * a + (1 - share) * b

    return [
        Weights(
            between(a.drive, b.drive),
            between(a.missed, b.missed),
            between(a.prepared, b.prepared),
            between(a.kept, b.kept),
            share * a.prizes + (1 - share) * b.prizes,
            between(a.convexity, b.convexity),
        )
        for a, b in zip(center, current, strict=True)
    ]
