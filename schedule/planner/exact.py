"""Proof: column generation over whole days, then enumeration of every column below the gap.

Column generation and its Lagrangian bound after M. Desrochers, J. Desrosiers and M. Solomon (1992), "A new
optimization algorithm for the vehicle routing problem with time windows", Operations Research 40; closing
the gap by route enumeration after R. Baldacci, N. Christofides and A. Mingozzi (2008), Mathematical
Programming 115. Optimality is claimed only if no limit was hit on the way.
"""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from schedule.planner.columns import DayGraph, Priced, Weights
from schedule.planner.labels import Floats, Suffixes
from schedule.planner.master import Master, Question
from schedule.planner.model import Model
from schedule.planner.objective import figures_of
from schedule.planner.problem import Goal
from schedule.planner.routes import Route

ROUNDS = 400
CHOOSING_ROUNDS = (12, 30, 60)
"""Rounds of column generation after which the integer problem over the columns so far is solved."""

STAGE_SHARES = {Goal.UNPLACED: 0.5, Goal.WISHES: 0.4, Goal.DRIVING: 0.8, Goal.CHANGE: 0.7}
"""Of the time left, the most that the proof of one goal may take from the goals after it."""

LONGEST_RESERVE = 3.0
RESERVE = 0.15
"""Seconds, and share of the time, kept back to choose among the columns when the time runs out."""

ROUTES_A_ROUND = 30
FEW_LABELS = 30_000
MANY_LABELS = 1_000_000
ENUMERATED = 1_000_000
BLEND = 1.0
MOST_COLUMNS = 60_000
FEEDING_LEVELS = 2
"""Levels of pricing where columns are wanted and no bound is."""

type Level = tuple[float, int, int]

PRICING: tuple[Level, ...] = (
    (0.8, 40, FEW_LABELS),
    (0.4, 200, FEW_LABELS),
    (0.0, 500, FEW_LABELS),
    (0.0, 10**9, MANY_LABELS),
)
"""Levels of pricing: the share of the least reduced cost aimed at, labels a node, labels in all."""

GAPS = (3, 6, 10, 20, 40, 80)
WIDE_GAP = 6
ROOT_NODES = 20
POOL_NODES = 200
TIGHTENINGS = 6
"""Times that columns are sought for plans with fewer unplaced minutes than the best known."""

MOST_NODES = 20_000
RELAXED_ROUNDS = 300
RELAXED_ENOUGH = 0.05
"""Between the master's value and the bound over ng-routes: near enough to stop."""

SMOOTHING = 0.6
"""Share of the best bound's weights in those that are priced."""

TOLERANCE = 1e-6
SLACK = 1e-5
"""Added to a width, so that rounding never leaves out a column that a better plan could hold."""


class HaltedError(Exception):
    """The time is up or a person stopped the search. Raised and caught inside the search only."""


@dataclass(slots=True)
class Proof:
    """What is known of one goal: the best value with its routes, and a true lower bound."""

    value: int
    bound: int
    routes: list[Route]

    @property
    def closed(self) -> bool:
        """Whether value and bound meet."""
        return self.value <= self.bound


@dataclass(frozen=True, slots=True)
class Bounded:
    """A day under certain weights: its arcs' costs, completion bounds and the least reduced cost."""

    weights: Weights
    arc_cost: Floats
    suffixes: Suffixes
    least: float


@dataclass(frozen=True, slots=True)
class Root:
    """The best Lagrangian bound with its duals: no day's reduced cost is below its ``least``.

    A plan of value ``v`` holds only columns of reduced cost at most ``least`` of their day plus ``v - bound``.
    """

    bound: float
    weights: list[Weights]
    least: list[float]
    value: float = 0.0
    """The master's dual value under these weights: the bound without the days' least."""


@dataclass(slots=True)
class Walkers:
    """The days' graphs and the means to walk all of them at once."""

    model: Model
    workers: int
    every_start: bool
    graphs: list[DayGraph] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.graphs = [DayGraph(day, every_start=self.every_start) for day in self.model.days]

    @property
    def usable(self) -> bool:
        """Whether every day's services fit in a mask."""
        return all(graph.fits for graph in self.graphs)

    def each[T](self, task: Callable[[DayGraph], T]) -> list[T]:
        """The task for every day, in the order of days whatever the number of workers."""
        if self.workers <= 1:
            return [task(graph) for graph in self.graphs]
        with ThreadPoolExecutor(self.workers) as pool:
            return list(pool.map(task, self.graphs))


class Exact:
    """One goal after the other over a common pool of routes."""

    def __init__(
        self,
        model: Model,
        workers: int,
        remaining: Callable[[], float],
        on_better: Callable[[list[Route]], None],
        tell: Callable[[str], None],
    ) -> None:
        self.model = model
        self.remaining = remaining
        self.cut = False
        self.kept_back = 0.0
        self.reserve = 0.0
        self.on_better = on_better
        self.tell = tell
        self.pool: dict[tuple[int, tuple[int, ...], int], Route] = {}
        self.walkers = Walkers(model, workers, every_start=False)
        self.full: Walkers | None = None if model.current_sessions else self.walkers

    @property
    def labels(self) -> int:
        """Labels made by all forward walks so far."""
        every = {id(one): one for one in (self.walkers, self.full) if one is not None}
        return sum(graph.labels for one in every.values() for graph in one.graphs)

    def learn(self, routes: Iterable[Route]) -> None:
        """Add routes to the pool."""
        for route in routes:
            self.pool.setdefault((route.day, route.visits, route.lunch_gap), route)

    def _check_time(self, reserve: float = 0.0) -> None:
        if self._left() <= reserve:
            raise HaltedError

    def _left(self) -> float:
        """Seconds left for this goal."""
        return self.remaining() - self.kept_back

    # ---- one goal ----------------------------------------------------------------------------------------

    def prove(self, goal: Goal, held: dict[Goal, int], routes: list[Route], floor: int) -> Proof:
        """Minimise a goal with the earlier ones held. ``floor`` is a bound that is known already.

        The proof's bound is true even if the time runs out on the way.
        """
        proof = Proof(figures_of(self.model, routes).of(goal), floor, routes)
        if proof.closed or not self.walkers.usable:
            return proof
        self.learn(routes)
        question = Question(goal, held)
        left = self.remaining()
        self.kept_back = left * (1 - STAGE_SHARES[goal])
        self.reserve = min(LONGEST_RESERVE, RESERVE * left)
        try:
            self._close(question, proof)
        except HaltedError:
            self.cut = True
            self.tell("stopped before the proof was complete")
        return proof

    def _close(self, question: Question, proof: Proof) -> None:
        try:
            root = self._generate_unplaced(question, proof)
            if root is None and not proof.closed:
                root = self._generate(question, proof)
        except HaltedError:
            self._choose(question, proof, list(self.pool.values()), nodes=ROOT_NODES)
            raise
        if proof.closed:
            return
        if root is None or self._open(question, proof, root) > WIDE_GAP:
            self._choose(question, proof, list(self.pool.values()), nodes=ROOT_NODES)
        if root is not None and not proof.closed:
            self._enumerate(question, proof, root)

    def _generate_unplaced(self, question: Question, proof: Proof) -> Root | None:
        """For unplaced minutes: columns from a blend with driving, which tells routes apart, then a bound.

        Unplaced minutes alone make many routes equally good: pricing them exactly is slow, their ng-routes not.
        """
        if question.goal is not Goal.UNPLACED:
            return None
        self._generate(Question(Goal.DRIVING, question.held, BLEND), None)
        self._choose(question, proof, list(self.pool.values()), nodes=POOL_NODES)
        root = None if proof.closed else self._relax(question, proof)
        for _ in range(TIGHTENINGS):
            if proof.closed:
                break
            before = proof.value
            self._generate(Question(Goal.DRIVING, {**question.held, Goal.UNPLACED: before - 1}), None)
            self._choose(question, proof, list(self.pool.values()), nodes=POOL_NODES)
            if proof.value == before:
                break
        return root

    def _open(self, question: Question, proof: Proof, root: Root) -> float:
        return proof.value - self._offset(question) - root.bound

    def _offset(self, question: Question) -> int:
        """What the master's value lacks: it counts sessions kept, the goal counts those that are not."""
        return self.model.current_sessions if question.goal is Goal.CHANGE else 0

    def _walkers_for(self, question: Question) -> Walkers:
        """The graphs with every start where a route is charged by its times, else the smaller ones."""
        if question.goal is not Goal.CHANGE and Goal.CHANGE not in question.held:
            return self.walkers
        if self.full is None:
            self.full = Walkers(self.model, self.walkers.workers, every_start=True)
        return self.full

    def _bound(self, proof: Proof, bound: float, question: Question) -> None:
        """Raise the proof's bound; values are whole numbers (multiples of a common step if unplaced)."""
        offset = self._offset(question)
        step = math.gcd(*self.model.value) if question.goal is Goal.UNPLACED and self.model.value else 1
        whole = math.ceil((bound + offset - TOLERANCE) / step) * step
        proof.bound = max(proof.bound, min(whole, proof.value))

    # ---- column generation -------------------------------------------------------------------------------

    def _generate(self, question: Question, proof: Proof | None) -> Root | None:
        """Columns until none is missing or the proof is closed. Without a proof only the pool is fed."""
        master = Master(self.model, question)
        master.add(self.pool.values())
        walkers = self._walkers_for(question)
        root: Root | None = None
        for round_number in range(ROUNDS):
            self._check_time(self.reserve)
            if proof is not None and round_number in CHOOSING_ROUNDS:
                self._choose(question, proof, list(self.pool.values()), nodes=ROOT_NODES)
            solved = master.solve()
            if solved is None:
                return root
            value, weights = solved
            self.tell(f"round {round_number + 1}: {len(master.columns)} days tried")
            levels = PRICING if proof is not None else PRICING[:FEEDING_LEVELS]
            routes, least, done = self._price(walkers, weights, master.no_miss, levels)
            bound = value + sum(least)
            if math.isfinite(bound) and (root is None or bound > root.bound):
                root = Root(bound, weights, least)
            if proof is not None and root is not None:
                self._bound(proof, root.bound, question)
            fresh = [r for r in routes if (r.day, r.visits, r.lunch_gap) not in self.pool]
            if done or not fresh or (proof is not None and proof.closed):
                return root
            self.learn(fresh)
            master.add(fresh)
        return root

    def _relax(self, question: Question, proof: Proof) -> Root | None:
        """Column generation over ng-routes: a bound nearly as good, at the price of a backward walk a round.

        Ng-routes (which may hold a service twice) stay in this master only; routes met on the way by the
        quickest pricing go to the pool.
        """
        master = Master(self.model, question)
        master.add(self.pool.values())
        walkers = self._walkers_for(question)
        root: Root | None = None
        center: Root | None = None
        seen: set[Route] = set()
        for round_number in range(RELAXED_ROUNDS):
            self._check_time(self.reserve)
            solved = master.solve()
            if solved is None:
                return root
            value, current = solved
            smooth = SMOOTHING if center is not None and round_number % 8 else 0.0
            weights = current if center is None or not smooth else _blend(center.weights, current, smooth)
            total = value if center is None or not smooth else smooth * center.value + (1 - smooth) * value
            bounds = self._bounds(walkers, weights)
            if not all(bound.suffixes.complete for bound in bounds):
                return root
            least = [min(0.0, bound.least) for bound in bounds]
            if center is None or total + sum(least) > center.bound:
                center = root = Root(total + sum(least), weights, least, total)
                self._bound(proof, root.bound, question)
            self.tell(f"round {round_number + 1}: bound {center.bound:.2f} of {value:.2f}")
            if proof.closed or value - center.bound < RELAXED_ENOUGH:
                return root
            found = [
                walkers.graphs[n].relaxed_route(bound.arc_cost, bound.suffixes)
                for n, bound in enumerate(bounds)
                if bound.least < -TOLERANCE
            ]
            quick = [r for priced in self._walk(walkers, bounds, PRICING[0], master.no_miss) for r in priced.routes]
            self.learn(quick)
            fresh = {r: None for r in [*found, *quick] if r is not None and r not in seen}
            seen.update(fresh)
            if not fresh and not smooth:
                return root
            master.add(fresh)
        return root

    @staticmethod
    def _bounds(walkers: Walkers, weights: list[Weights]) -> list[Bounded]:
        return walkers.each(lambda graph: _bounded(graph, weights[graph.day.index]))

    def _price(
        self, walkers: Walkers, weights: list[Weights], no_miss: bool, levels: tuple[Level, ...]
    ) -> tuple[list[Route], list[float], bool]:
        """New routes of negative reduced cost, each day's least, and whether no route is missing."""
        bounds = self._bounds(walkers, weights)
        least = [min(0.0, bound.least) for bound in bounds]
        days: list[Priced] = []
        for level in levels:
            self._check_time(self.reserve)
            days = self._walk(walkers, bounds, level, no_miss)
            if any(priced.routes for priced in days):
                break
        routes = [route for priced in days for route in priced.routes]
        if not routes and all(priced.complete for priced in days):
            return [], [0.0] * len(least), True
        return routes, least, False

    def _walk(self, walkers: Walkers, bounds: list[Bounded], level: Level, no_miss: bool) -> list[Priced]:
        share, beam, limit = level

        def one_day(graph: DayGraph) -> Priced:
            bound = bounds[graph.day.index]
            if bound.least > -TOLERANCE:
                return Priced([], 0.0, True)
            aimed = bound.weights
            if share and math.isfinite(bound.least):
                aimed = _shifted(aimed, share * bound.least)
            priced = graph.price(
                aimed,
                bound.arc_cost,
                bound.suffixes,
                no_miss=no_miss,
                beam=beam,
                max_labels=limit,
                most=ROUTES_A_ROUND,
            )
            return Priced(priced.routes, priced.bound, priced.complete and not share)

        return walkers.each(one_day)

    # ---- integer problems --------------------------------------------------------------------------------

    def _choose(self, question: Question, proof: Proof, routes: list[Route], nodes: int) -> bool:
        """Solve the integer problem over some routes; whether its answer is the best among them, proved."""
        self._check_time()
        master = Master(self.model, question)
        known = dict.fromkeys([*routes, *proof.routes])
        master.add(known)
        self.tell(f"choosing among {len(known)} days")
        chosen = master.choose(self._left(), nodes, lambda: self._left() <= 0)
        if chosen.routes is not None:
            self._take(question, proof, chosen.routes)
        return chosen.proved

    def _take(self, question: Question, proof: Proof, routes: list[Route]) -> None:
        figures = figures_of(self.model, routes)
        if any(figures.of(goal) > value for goal, value in question.held.items()):
            return
        if figures.of(question.goal) < proof.value:
            proof.value, proof.routes = figures.of(question.goal), routes
            self.on_better(routes)

    def _enumerate(self, question: Question, proof: Proof, root: Root) -> None:
        """All columns below growing gaps; proved once the best choice among them lies within the gap."""
        for gap in GAPS:
            needed = self._open(question, proof, root) - 1 + SLACK
            width = max(0.0, min(float(gap), needed))
            found = self._all_below(question, root, width)
            if found is None:
                return
            self.tell(f"{len(found)} days lie within {width:.1f} of the bound")
            if not self._choose(question, proof, found, nodes=MOST_NODES):
                return
            # Any better plan would hold a column beyond the width, so its value lies beyond it too.
            self._bound(proof, root.bound + width, question)
            if self._open(question, proof, root) - 1 <= width:
                proof.bound = proof.value
            if proof.closed:
                return

    def _all_below(self, question: Question, root: Root, width: float) -> list[Route] | None:
        """Every column that a plan within ``width`` of the bound can hold; ``None`` where too many."""
        self._check_time()
        no_miss = question.held.get(Goal.WISHES) == 0

        def one_day(graph: DayGraph) -> Priced:
            bound = _bounded(graph, root.weights[graph.day.index])
            if not bound.suffixes.complete:
                return Priced([], 0.0, False)
            return graph.enumerate_below(
                bound.weights,
                bound.arc_cost,
                bound.suffixes,
                gap=width + root.least[graph.day.index],
                no_miss=no_miss,
                max_labels=ENUMERATED,
            )

        days = self._walkers_for(question).each(one_day)
        found = [route for priced in days for route in priced.routes]
        if len(found) > MOST_COLUMNS or not all(priced.complete for priced in days):
            return None
        return found


def _bounded(graph: DayGraph, weights: Weights) -> Bounded:
    """The backward walk of a day and the least reduced cost that it allows."""
    arc_cost = graph.arc_costs(weights)
    suffixes = graph.suffixes(arc_cost)
    least = _least(suffixes) - weights.convexity if suffixes.complete else -math.inf
    return Bounded(weights, arc_cost, suffixes, least)


def _blend(center: list[Weights], current: list[Weights], share: float) -> list[Weights]:
    """Weights between those of the best bound and the master's: dual smoothing (P. Wentges, 1997)."""

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


def _least(suffixes: Suffixes) -> float:
    """The least cost of a whole day in the backward walk."""
    at = int(suffixes.head[0])
    least = math.inf
    while at >= 0:
        least = min(least, float(suffixes.cost[at]))
        at = int(suffixes.following[at])
    return least


def _shifted(weights: Weights, by: float) -> Weights:
    return Weights(
        weights.drive,
        weights.missed,
        weights.prepared,
        weights.kept,
        weights.prizes,
        weights.convexity + by,
    )
